"""From a site's tables to what packer planning needs: holes, packers, open lengths, in SI units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from geoprofile.packers import Hole, Packer, Section, Spacer
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.heads.inputs_levels import latest_levels

if TYPE_CHECKING:
    from geoprofile.geometry import Depth, Path
    from geoprofile.site import Site

BUILT = ("casing", "riser", "screen", "seal", "filter pack")  # no bare rock where one of them is
PATH_STEP_M = 1.0  # [m]
Row = Mapping[str, Any]


def holes_of(site: Site) -> dict[str, Hole]:
    """Every borehole as packer planning sees it.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, caliper, interval and water_level.

    Returns
    -------
    dict of str to Hole
        By name; a hole without construction rows has no section, so nothing can be planned in it.
    """
    rows = _by_borehole(site.table("construction"))
    calipers = _by_borehole(site.table("caliper"))
    paths = paths_of(site)
    levels = latest_levels(paths, _records(site.intervals), _records(site.table("water_level")))
    return {
        name: _hole(name, path, rows.get(name, []), calipers.get(name, []), levels.get(name))
        for name, path in paths.items()
    }


def packers_of(site: Site) -> tuple[Packer, ...]:
    """The packers on hand.

    Parameters
    ----------
    site : Site
        Table packer.

    Returns
    -------
    tuple of Packer
        In the order of the table, [m] and [Pa].
    """
    return tuple(
        Packer(
            packer=str(row["packer"]),
            deflated_diameter_m=row["deflated_diameter_mm"] / 1e3,
            min_hole_m=row["min_hole_mm"] / 1e3,
            max_hole_m=row["max_hole_mm"] / 1e3,
            element_length_m=float(row["element_length_m"]),
            seating_pressure_pa=row["seating_pressure_kpa"] * 1e3,
            max_inflation_pa=row["max_inflation_kpa"] * 1e3,
            max_depth_m=row["max_depth_m"],
            max_submergence_m=row["max_submergence_m"],
            pipe_inner_diameter_m=_scaled(row["pipe_inner_diameter_mm"], 1e-3),
            line="water" if row["gas_or_water"] == "water" else "gas",
            line_rating_pa=_scaled(row["line_rating_kpa"], 1e3),
        )
        for row in _records(site.table("packer"))
    )


def spacers_of(site: Site) -> tuple[Spacer, ...]:
    """The open lengths on hand.

    Parameters
    ----------
    site : Site
        Table spacer.

    Returns
    -------
    tuple of Spacer
        In the order of the table [m].
    """
    rows = _records(site.table("spacer"))
    return tuple(Spacer(str(row["spacer"]), float(row["open_length_m"])) for row in rows)


def known_stretches(
    site: Site, quantity: str, round_name: str | None = None
) -> dict[str, list[tuple[float, float]]]:
    """Where along each hole a quantity is already known.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    quantity : str
        "K" or an analyte.
    round_name : str, optional
        Round of the analyte; any when left out.

    Returns
    -------
    dict of str to list of (float, float)
        Tops and bottoms [m] by borehole; a rejected K counts as not known.
    """
    if quantity == "K":
        table = site.table("interval_conductivity")
        table = table[table["grade"] != "rejected"]
    else:
        table = site.table("concentration")
        table = table[table["analyte"] == quantity]
        table = table if round_name is None else table[table["round"] == round_name]
    known: dict[str, list[tuple[float, float]]] = {}
    for row in _records(table):
        known.setdefault(str(row["borehole"]), []).append((row["top_m"], row["bottom_m"]))
    return known


def _hole(
    name: str, path: Path, rows: Sequence[Row], caliper: Sequence[Row], level: Depth | None
) -> Hole:
    """One hole with its sections in order and its depths tied to the vertical."""
    length = float(path.length_m)
    along = np.linspace(0.0, length, max(2, round(length / PATH_STEP_M) + 1))
    vertical = path.vertical_depth(along)
    read = sorted((row["depth_m"], row["diameter_mm"]) for row in caliper)
    return Hole(
        name,
        length,
        _sections(rows),
        static_depth_m=None if level is None else level.vertical_m,
        along_m=tuple(float(a) for a in along),
        vertical_m=tuple(float(v) for v in vertical),
        caliper_depth_m=tuple(float(depth) for depth, _ in read),
        caliper_m=tuple(float(diameter) / 1e3 for _, diameter in read),
    )


def _sections(rows: Sequence[Row]) -> tuple[Section, ...]:
    """Construction as sections; open hole only where nothing is built into it."""
    built = [_section(r) for r in rows if r["kind"] in BUILT]
    bare = [_section(r) for r in rows if r["kind"] == "open hole"]
    for inner in built:
        bare = [part for section in bare for part in _cut(section, inner)]
    return tuple(sorted([*built, *bare], key=lambda s: (s.top_m, s.bottom_m)))


def _section(row: Row) -> Section:
    return Section(
        float(row["top_m"]), float(row["bottom_m"]), row["diameter_mm"] / 1e3, str(row["kind"])
    )


def _cut(section: Section, inner: Section) -> list[Section]:
    """What is left of an open section beside something built into it."""
    if inner.bottom_m <= section.top_m or inner.top_m >= section.bottom_m:
        return [section]
    ends = [(section.top_m, inner.top_m), (inner.bottom_m, section.bottom_m)]
    return [Section(a, b, section.diameter_m, section.kind) for a, b in ends if b > a]


def _by_borehole(table: pd.DataFrame) -> dict[str, list[Row]]:
    rows: dict[str, list[Row]] = {}
    for row in _records(table):
        rows.setdefault(str(row["borehole"]), []).append(row)
    return rows


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as mappings with None for every empty cell."""
    plain = pd.DataFrame(frame.drop(columns="geometry", errors="ignore")).astype(object)
    rows = plain.where(plain.notna(), None).to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]


def _scaled(value: Any, factor: float) -> float | None:
    return None if value is None else float(value) * factor
