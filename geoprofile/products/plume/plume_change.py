"""What a plume gained and lost between rounds, where both rounds are sure enough of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.engine.rows import finding, frame
from geoprofile.geometry.edges import COARSE_CELLS, Chances
from geoprofile.geometry.grids import grid_over
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.concentration.inputs import rounds_in_order
from geoprofile.products.maps.blanks import Limits, blanked
from geoprofile.products.maps.columns import column_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import MappedField, chosen_elevations, chosen_fields
from geoprofile.products.maps.places import Wanted, places_of
from geoprofile.products.maps.rows import spanning
from geoprofile.products.plume.changes import classes_of
from geoprofile.products.plume.extents import plume_body, smooth_chances
from geoprofile.products.plume.tables import CHANGES

if TYPE_CHECKING:
    import pandas as pd
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
Fitted: TypeAlias = Mapping[tuple[str, str], MappedField]


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Change of every analyte with a criterion between rounds that follow each other.

    Returns
    -------
    Mapping
        Table `plume_change`, whose classes tile each map; findings on rounds without a field.

    Notes
    -----
    With the chances `b` before and `n` now of lying above the criterion, ground counts as gained
    where n - b passes the confidence, as lost where b - n does, as above in both rounds where
    n + b - 1 does, and as below in both where 1 - n - b does. These are the least chances that the
    class is right, however the two rounds depend on each other (Frechet 1935, from memory); what
    passes none of them is uncertain and no change.
    """
    fields = [f for f in chosen_fields(site, "all") if f.criterion is not None]
    kept, findings = spanning(fields, "plume_change")
    fitted = {(f.quantity, str(f.round)): f for f in kept}
    pairs = [(name, *rounds) for name, rounds in _pairs(site, {f.quantity for f in fields})]
    both = [p for p in pairs if (p[0], p[1]) in fitted and (p[0], p[2]) in fitted]
    rows: list[dict[str, Any]] = []
    for done, (name, before, now) in enumerate(both):
        rows += _rows(site, fitted[name, before], fitted[name, now], settings)
        progress(done + 1, len(both))
    return {
        "plume_change": frame("plume_change", rows, site.crs),
        "finding": frame("finding", findings + _missing(pairs, fitted), site.crs),
    }


def _pairs(site: Site, analytes: set[str]) -> Iterator[tuple[str, tuple[str, str]]]:
    """Rounds of every analyte that follow each other in time."""
    table = site.table("concentration")
    table = table[(table["medium"] == "water") & table["analyte"].isin(analytes)]
    for name, group in table.groupby("analyte", sort=True):
        for rounds in pairwise(rounds_in_order(group)):
            yield str(name), rounds


def _rows(
    site: Site, before: MappedField, now: MappedField, settings: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Classes of one pair of rounds, at every elevation and at any depth."""
    confidence = float(settings["confidence"])
    rows: list[dict[str, Any]] = []
    for place, domain, chances in _maps(site, (before, now), settings):
        shapes, expected = classes_of(*chances, domain=domain, confidence=confidence)
        for change in CHANGES:
            if shapes[change].is_empty:
                continue
            rows.append(
                {
                    "analyte": now.quantity,
                    "round_before": before.round,
                    "round": now.round,
                    "criterion_ug_per_l": now.criterion,
                    "change": change,
                    "confidence": confidence,
                    "area_m2": shapes[change].area,
                    "expected_change_m2": expected,
                    "geometry": shapes[change],
                    **place,
                }
            )
    return rows


def _maps(
    site: Site, fields: tuple[MappedField, MappedField], settings: Mapping[str, Any]
) -> Iterator[tuple[dict[str, Any], MultiPolygon, tuple[Chances, ...]]]:
    """Places, their domains, and the chances before and now."""
    domain = domain_of(site)
    grid = grid_over(domain, cells=COARSE_CELLS)
    wanted = Wanted(chosen_elevations(site, settings["elevations_m"]))
    for whole in places_of(site, grid, domain, quantity=fields[1].quantity, wanted=wanted):
        place, _ = blanked(site, fields[1], grid, place=whole, domain=domain, limits=Limits())
        if not place.domain.is_empty:
            points = np.column_stack([grid.nodes, place.z])
            chances = tuple(smooth_chances(grid, f.exceedance(points)) for f in fields)
            yield dict(place.columns), place.domain, chances
    column = column_of(site, domain)
    bodies = [
        plume_body(
            field,
            column,
            realisations=int(settings["realisations"]),
            rng=np.random.default_rng(int(settings["seed"])),
        )
        for field in fields
    ]
    yield {"surface": "any depth"}, domain, tuple(body.anywhere() for body in bodies)


def _missing(pairs: list[tuple[str, str, str]], fitted: Fitted) -> list[dict[str, str]]:
    """Findings on rounds that follow each other but cannot be compared."""
    lacking = [
        (name, before, now, [r for r in (before, now) if (name, r) not in fitted])
        for name, before, now in pairs
    ]
    if pairs and all(len({r for n, r in fitted if n == name}) < 2 for name, *_ in pairs):
        names = ", ".join(dict.fromkeys(name for name, *_ in pairs))
        return [_note(names, f"no change between rounds of {names}: not two have a field")]
    return [
        _note(name, f"no change of {name} from {before} to {now}: no map of {', '.join(absent)}")
        for name, before, now, absent in lacking
        if absent
    ]


def _note(key: str, what: str) -> dict[str, str]:
    return finding(
        "model",
        key,
        what,
        what_to_do="Set rounds = 'all' under [model] in site.toml; where that is set, the findings "
        "on the field say what the other round lacks.",
        severity="note",
    )


PLUGIN = Layer(
    name="plume_change",
    summary="ground that a plume gained and lost between rounds, and what is uncertain",
    reads=(
        "model",
        "concentration",
        "interval_conductivity",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "area",
        "hydro_unit",
    ),
    writes=("plume_change",),
    compute=compute,
    settings=(
        Setting(
            "elevations_m", [], "m", "Elevations of the maps; none: round ones over the intervals"
        ),
        Setting(
            "confidence",
            0.8,
            "1",
            "Least chance that a class is right; what falls short is uncertain",
            low=0.5,
            high=0.99,
        ),
        Setting("realisations", 100, "1", "Simulated fields for any depth", low=0),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
    ),
)
