"""Filled bands of transmissivity, over the saturated thickness and within units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import Bandwidth, log_levels
from geoprofile.engine.rows import finding, frame, known_names
from geoprofile.geometry.contours import above
from geoprofile.geometry.edges import between
from geoprofile.geometry.grids import Grid, grid_over
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.boreholes.surfaces import water_of
from geoprofile.products.maps.columns import counted_ground
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import MappedField, band_rows, latest_fields
from geoprofile.products.maps.places import chosen_units
from geoprofile.products.maps.transmissivity import transmissivity
from geoprofile.products.units.inputs import unit_surfaces

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
STATISTICS = ("median", "low", "high")
CELLS = 600  # map cells, on which fields are simulated
DEEPER = "ground below the boreholes is not counted: the aquifer may carry more"
DRY = "no head is known: counted from the ground down"


@dataclass(frozen=True, eq=False)
class Slab:
    """Ground between two surfaces: `columns` as tables name it, `top` and `base` (n,) [m]."""

    columns: Mapping[str, str]
    top: Array
    base: Array


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Maps of transmissivity.

    Returns
    -------
    Mapping
        Table `transmissivity_band`; findings on units that are not there.

    Notes
    -----
    The saturated thickness runs from the water level (ground, where no head is known) to the
    bottoms of the holes, or within a unit. Bands follow log10, and are cut to the area of the maps
    and to where the thickness is not less than `thinnest_m`.
    """
    field = next((f for f in latest_fields(site) if f.quantity == "K"), None)
    units, unknown = chosen_units(site, settings["units"])
    rows: list[dict[str, Any]] = []
    if field is not None:
        grid = grid_over(domain_of(site), cells=CELLS)
        slabs = list(_slabs(site, grid, units))
        for done, slab in enumerate(slabs):
            rows += _rows(site, field, grid, slab, settings)
            progress(done + 1, len(slabs))
    return {
        "transmissivity_band": frame("transmissivity_band", rows, site.crs),
        "finding": frame("finding", [_unknown(name) for name in unknown], site.crs),
    }


def _slabs(site: Site, grid: Grid, units: Sequence[str]) -> Iterator[Slab]:
    """The saturated thickness, then the saturated part of each unit."""
    top, base = counted_ground(site).top_and_base(grid.nodes)
    yield Slab({"surface": "whole thickness"}, top, base)
    surfaces = unit_surfaces(site)
    if surfaces is None:
        return
    tops, bases = surfaces.tops(grid.nodes), surfaces.bases(grid.nodes)
    for name in units:
        k = surfaces.names.index(name)
        upper = np.minimum(tops[:, k], top)
        lower = np.minimum(np.maximum(bases[:, k], base), upper)
        yield Slab({"surface": "unit", "hydro_unit": name}, upper, lower)


def _rows(
    site: Site, field: MappedField, grid: Grid, slab: Slab, settings: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Bands of one slab."""
    thickness = slab.top - slab.base
    domain = above(
        grid.x, grid.y, grid.spread(thickness), float(settings["thinnest_m"]), domain_of(site)
    )
    if domain.is_empty:
        return []
    found = transmissivity(
        field,
        grid.nodes,
        slab.top,
        slab.base,
        realisations=int(settings["realisations"]),
        rng=np.random.default_rng(int(settings["seed"])),
    )
    if found is None:
        return []
    thick = thickness > 0
    known = np.concatenate([values[thick] for values in found.values()])
    levels = tuple(log_levels(float(known.min()), float(known.max()) * 1.0001))
    notes = DEEPER if water_of(site) is not None else f"{DRY}; {DEEPER}"
    rows = []
    wanted = known_names("transmissivity_band.statistics", settings["statistics"], STATISTICS)
    for name in wanted:
        # where the slab ends, the surface of log10 T goes on as it comes: the domain cuts it
        values = np.where(thick, np.log10(np.where(thick, found[name], 1.0)), np.nan)
        fine, smooth = between(grid, grid.spread(values))
        made = band_rows(
            fine.x,
            fine.y,
            10.0**smooth,
            width=Bandwidth(name, "m2/s", levels, True),
            domain=domain,
        )
        rows += [{**row, **slab.columns, "quantity": "T", "notes": notes} for row in made]
    return rows


def _unknown(name: str) -> dict[str, str]:
    return finding(
        "transmissivity_band",
        name,
        f"no transmissivity of unit '{name}': no borehole meets it, or no units are correlated",
        what_to_do="Name it as in the table hydro_unit, and list the units under [geology] units.",
    )


PLUGIN = Layer(
    name="transmissivity_band",
    summary="filled bands of transmissivity over the saturated thickness and within units",
    reads=(
        "model",
        "interval_conductivity",
        "concentration",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "area",
        "hydro_unit",
    ),
    writes=("transmissivity_band",),
    compute=compute,
    settings=(
        Setting("units", [], "", "Hydrostratigraphic units to map besides; 'all' for every unit"),
        Setting(
            "statistics",
            ["median", "low", "high"],
            "",
            "What is mapped: some of median, low (10 %), high (90 %)",
        ),
        Setting("thinnest_m", 0.5, "m", "No map where the thickness is less", low=0),
        Setting("realisations", 100, "1", "Simulated fields", low=20),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
    ),
)
