"""Hydrostratigraphic units correlated between boreholes: where each hole meets them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.engine.rows import finding, frame, joined
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.units.correlation import Met, Row, Units, correlated, plain
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.geometry import Path
    from geoprofile.site import Site

MOST_OTHER = 0.2  # of a hole's log that may disagree with the order of units without a finding
FEWEST_HOLES = 2  # a unit of one hole is no correlation


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """The units of every borehole that has a log, from top to bottom.

    Returns
    -------
    Mapping
        Table `hydro_unit`, lines in x, y, elevation [m]; findings on logs that do not fit.
    """
    logs = _logs(site)
    wanted = list(settings["units"])
    units = Units.of(wanted or correlated(logs))
    met = {hole: units.met(log) for hole, log in logs.items()}
    numbers = sorted({unit.number for found in met.values() for unit in found})
    rows = []
    if len(numbers) > 1:
        paths = paths_of(site)
        for hole, found in met.items():
            rows += _rows(hole, paths[hole], found, units, numbers)
    findings = _findings(logs, met, units) if wanted else []
    progress(1, 1)
    return {
        "hydro_unit": frame("hydro_unit", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _logs(site: Site) -> dict[str, list[Row]]:
    """The log of every borehole, from top to bottom."""
    logs: dict[str, list[Row]] = {}
    for row in records_of(site.table("lithology").sort_values(["borehole", "top_m"])):
        logs.setdefault(row["borehole"], []).append(
            Row(float(row["top_m"]), float(row["bottom_m"]), str(row["unit"]))
        )
    return logs


def _rows(
    hole: str, path: Path, found: list[Met], units: Units, numbers: list[int]
) -> list[dict[str, Any]]:
    """Rows of one borehole."""
    import shapely

    rows = []
    for unit in found:
        line = path.line(unit.top_m, min(unit.bottom_m, path.length_m))
        rows.append(
            {
                "borehole": hole,
                "hydro_unit": units.names[unit.number],
                "unit_number": numbers.index(unit.number) + 1,
                "top_m": unit.top_m,
                "bottom_m": unit.bottom_m,
                "top_elevation_m": float(line[0, 2]),
                "bottom_elevation_m": float(line[-1, 2]),
                "base_met": unit is not found[-1],
                "notes": joined([_other(unit)]),
                "geometry": shapely.LineString(line),
            }
        )
    return rows


def _other(unit: Met) -> str:
    """What a reader must know of a unit that takes in others."""
    return f"{unit.other_m:.1f} m of it are logged as another unit" if unit.other_m else ""


def _findings(
    logs: Mapping[str, list[Row]], met: Mapping[str, list[Met]], units: Units
) -> list[dict[str, str]]:
    """Units that no hole meets, names that belong to none, and holes out of order."""
    found = []
    for number, name in enumerate(units.names):
        holes = sum(any(unit.number == number for unit in parts) for parts in met.values())
        if holes < FEWEST_HOLES:
            found.append(_few(name, holes))
    named = {plain(row.name): row.name for log in logs.values() for row in log}
    found += [_unlisted(named[key]) for key in sorted(set(named) - set(units.number))]
    for hole, parts in met.items():
        length = sum(unit.bottom_m - unit.top_m for unit in parts)
        other = sum(unit.other_m for unit in parts)
        if other > MOST_OTHER * length:
            found.append(_disordered(hole, other, length))
    return found


def _few(name: str, holes: int) -> dict[str, str]:
    """A finding for a unit that cannot be correlated."""
    return finding(
        "lithology",
        name,
        f"the unit '{name}' is met in {holes or 'no'} borehole{'' if holes == 1 else 's'}",
        what_to_do="Check its spelling and its place in units under [geology] in site.toml.",
    )


def _unlisted(name: str) -> dict[str, str]:
    """A finding for a name that belongs to no unit."""
    return finding(
        "lithology",
        name,
        f"'{name}' belongs to no hydrostratigraphic unit and is taken into the unit above it",
        what_to_do="Add it to a unit under [geology] in site.toml, as in 'sand = sand, gravel'.",
        severity="note",
    )


def _disordered(hole: str, other: float, length: float) -> dict[str, str]:
    """A finding for a log that the order of units does not describe."""
    return finding(
        "lithology",
        hole,
        f"{other:.1f} of {length:.1f} m are logged as another unit than the order of units gives",
        what_to_do="Group what alternates into one unit, or correct the order under [geology].",
    )


PLUGIN = Layer(
    name="geology",
    summary="hydrostratigraphic units that are correlated between boreholes",
    reads=("lithology", "borehole", "survey"),
    writes=("hydro_unit",),
    compute=compute,
    settings=(
        Setting(
            "units",
            [],
            "",
            "Units from top to bottom, each a name of the lithology or 'unit = name, name'; none: "
            "those of the lithology if every hole meets each once and in one order",
        ),
    ),
)
