"""Mass discharge of every analyte through every section that lies across the flow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.engine.rows import finding, frame, joined
from geoprofile.errors import DataError
from geoprofile.geometry.contours import polygons
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.discharge.fluxes import planes_of, share_of, simulated_fluxes
from geoprofile.products.discharge.gradients import Gradient, gradient_of
from geoprofile.products.discharge.mass_flux import structural_range
from geoprofile.products.discharge.transects import Cells, block_boxes, block_sums
from geoprofile.products.maps.mapping import ASSUMED_FROM, MappedField, latest_fields
from geoprofile.products.section.lines import line_names, sheet_starts
from geoprofile.products.section.sections import Section, section_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
Rows: TypeAlias = dict[str, list[dict[str, Any]]]
WRITES = ("discharge", "discharge_cell")
RANGE = [0.1, 0.5, 0.9]  # quantiles of the simulated discharge [-]
LEAST_SHARE = 0.5  # [-] sine of the angle between line and flow: 30 degrees
NOTE = (
    "10 to 90 %: statistical range, K and concentration taken as independent; least to most: also "
    "what a mean gradient gets wrong, which is too steep where K is high; no K or concentration is "
    "taken for more than twice the highest measured"
)


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Discharge of every analyte in its latest round, from simulated fields of K and of C.

    Returns
    -------
    Mapping
        Table `discharge` [g/d]: median, 10 and 90 %, and the range widened by what a mean gradient
        gets wrong; table `discharge_cell`: where in the section it passes; findings on sections
        that carry none.

    Notes
    -----
    Each realisation draws K, concentration, gradient and direction of flow. The sum runs over the
    plane between the water level and the bottoms of the holes, inside the site area, and is the
    mean of all planes where several are asked for; the cells are those of the drawn plane.
    K and concentrations count as means over the usual length of an interval, which is what the
    field knows them as. Non-detects count as the field has them, below their limit.
    """
    fields = {f.quantity: f for f in latest_fields(site)}
    rows: Rows = {name: [] for name in (*WRITES, "finding")}
    names = line_names(site) if "K" in fields and len(fields) > 1 else []
    if names and site.table("flow").empty:
        rows["finding"].append(_no_flow())
        names = []
    for done, name in enumerate(names):
        rng = np.random.default_rng([int(settings["seed"]), done])
        _through(rows, site, name, fields=fields, settings=settings, rng=rng)
        progress(done + 1, len(names))
    return {name: frame(name, found, site.crs) for name, found in rows.items()}


def _through(
    rows: Rows,
    site: Site,
    name: str,
    *,
    fields: Mapping[str, MappedField],
    settings: Mapping[str, Any],
    rng: np.random.Generator,
) -> None:
    """Rows of one section, or why it has none."""
    try:
        section = section_of(site, name)
    except DataError:
        return  # the layer of sections says what is wrong with the line
    gradient = gradient_of(site, section.plane, settings)
    planes = planes_of(site, section, gradient, settings)
    if not len(planes[0]):
        return
    if abs(share_of(planes[0], gradient)) < LEAST_SHARE:
        rows["finding"].append(_along_the_flow(name))
        return
    drawn = simulated_fluxes(
        planes,
        fields,
        gradient,
        length_m=_usual_length(site),
        realisations=int(settings["realisations"]),
        rng=rng,
    )
    for analyte, flux in drawn.items():
        named = {"section": name, "analyte": analyte, "round": fields[analyte].round}
        masses = [f * c.area for f, c in zip(flux, planes, strict=True)]
        row = _row(section, gradient, masses)
        assumed = fields[analyte].assumed(planes[0].points) > ASSUMED_FROM
        row["assumed_share"] = _share_of(np.abs(masses[0]).mean(axis=0), assumed)
        rows["discharge"].append({**named, **row})
        start = sheet_starts(site)[name]
        rows["discharge_cell"] += [
            {**named, **row} for row in _cell_rows(section, planes[0], masses[0], start)
        ]


def _usual_length(site: Site) -> float:
    """Median length of the intervals [m]."""
    intervals = site.table("interval")
    return float((intervals["bottom_m"] - intervals["top_m"]).median())


def _row(section: Section, gradient: Gradient, masses: list[Array]) -> dict[str, Any]:
    """One row with the line at the middle of the wet plane; masses [g/d] by plane and cell."""
    import shapely

    by_plane = np.array([mass.sum(axis=1) for mass in masses])
    low, median, high = (float(v) for v in np.quantile(by_plane.mean(axis=0), RANGE))
    least, most = structural_range(low, high, planes=len(masses))
    middle = float(np.mean(section.wet.bounds[1::2]))
    bends = section.plane.bends
    medians = np.median(by_plane, axis=1)
    spread = f"single planes {medians.min():.3g} to {medians.max():.3g} g/d (medians)"
    return {
        "discharge_g_per_day": median,
        "discharge_low_g_per_day": low,
        "discharge_high_g_per_day": high,
        "discharge_least_g_per_day": least,
        "discharge_most_g_per_day": most,
        "planes": len(masses),
        "notes": joined([gradient.origin, spread if len(masses) > 1 else "", NOTE]),
        "geometry": shapely.LineString(section.plane.to_map(bends, np.full(len(bends), middle))),
    }


def _share_of(masses: Array, some: NDArray[np.bool_]) -> float | None:
    """Share of the whole that some cells carry; None where nothing passes."""
    whole = float(masses.sum())
    return float(masses[some].sum()) / whole if whole > 0 else None


def _cell_rows(section: Section, cells: Cells, mass: Array, start: float) -> list[dict[str, Any]]:
    """Blocks of cells on the sheet with their flux, its range and their share of the whole."""
    import shapely
    from shapely.affinity import translate

    numbers, boxes = block_boxes(cells)
    area, passed = block_sums(cells, cells.area), block_sums(cells, mass)
    low, median, high = np.quantile(passed / area, RANGE, axis=0)
    share = passed.mean(axis=0) / mass.sum(axis=1).mean()
    column = np.unique(boxes[:, 0], return_inverse=True)[1]
    reached = np.cumsum(np.bincount(column, weights=share))[column]
    shapes: Any = shapely.intersection(shapely.box(*boxes.T), section.wet)
    return [
        {
            "distance_m": (boxes[k, 0] + boxes[k, 2]) / 2,
            "elevation_m": (boxes[k, 1] + boxes[k, 3]) / 2,
            "area_m2": area[k],
            "flux_g_per_m2_per_day": median[k],
            "flux_low_g_per_m2_per_day": low[k],
            "flux_high_g_per_m2_per_day": high[k],
            "share": share[k],
            "cumulative_share": reached[k],
            "geometry": polygons(translate(shapes[k], xoff=start)),
        }
        for k in range(len(numbers))
    ]


def _no_flow() -> dict[str, str]:
    return finding(
        "flow",
        "",
        "no direction of flow: no mass discharge",
        what_to_do="Measure static heads in at least three boreholes that do not lie on one line.",
        severity="note",
    )


def _along_the_flow(name: str) -> dict[str, str]:
    return finding(
        "section_line",
        name,
        "the section runs within 30 degrees of the flow: no mass discharge through it",
        what_to_do="Draw a section across the flow to learn the mass discharge.",
        severity="note",
    )


PLUGIN = Layer(
    name="discharge",
    summary="mass discharge through the sections that lie across the flow",
    reads=(
        "section_line",
        "model",
        "flow",
        "borehole",
        "survey",
        "interval",
        "interval_conductivity",
        "concentration",
        "criterion",
        "head",
        "area",
        "hydro_unit",
    ),
    writes=WRITES,
    compute=compute,
    settings=(
        Setting("realisations", 200, "1", "Simulated fields", low=20),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
        Setting(
            "planes",
            1,
            "1",
            "Planes that are averaged: the drawn one and others parallel to it, down and up the "
            "flow in turn",
            low=1,
            high=25,
        ),
        Setting(
            "plane_spacing_m",
            0.0,
            "m",
            "From one plane to the next; 0: a twentieth of the section's length",
            low=0,
        ),
        Setting(
            "gradient",
            "site",
            "",
            "The gradient of the site, or where there are enough a local one from the heads of the "
            "boreholes near the section",
            allowed=("site", "local"),
        ),
        Setting(
            "reach_m",
            0.0,
            "m",
            "How far from the section the heads of a local gradient may lie; 0: a quarter of the "
            "extent of the boreholes",
            low=0,
        ),
    ),
)
