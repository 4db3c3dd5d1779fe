"""A plan of what the advice proposes: its zones in an existing hole, or a new hole with its zones.

What the equipment cannot isolate where the advice wants it is moved as little as possible; the
plan tells it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from geoprofile import packers
from geoprofile.errors import DataError, UsageError
from geoprofile.packers import Hole, Packer, Profile, Rules, SetUp, Spacer
from geoprofile.products.packer_plan.compute import (
    as_asked,
    equipment_for,
    hole_of,
    plan_of,
    purpose_of,
)
from geoprofile.products.packer_plan.inputs import packers_of, spacers_of
from geoprofile.products.packer_plan.plan import Choices, NewHole, Plan
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Row = Mapping[str, Any]
SAME_M = 0.006  # [m] positions are whole centimetres


@dataclass(frozen=True)
class Wanted:
    """A zone that the advice proposes [m along the hole], with its packer and open length."""

    top_m: float
    bottom_m: float
    packer: str | None = None
    spacer: str | None = None
    to_the_bottom: bool = False

    @property
    def words(self) -> str:
        """For example `12.00 to 14.00 m`."""
        return f"{self.top_m:.2f} to {self.bottom_m:.2f} m"


def plan_of_tests(
    site: Site, ranks: Sequence[int], *, purpose: str = "both", choices: Choices | None = None
) -> Plan:
    """Plan the zones of the table `next_test` with these ranks, which must share a borehole.

    Parameters
    ----------
    site : Site
        As for `make_plan`, with the table next_test.
    ranks : sequence of int
        Which.
    purpose : str
        As for `make_plan`.
    choices : Choices, optional
        Equipment, pace and margins.

    Returns
    -------
    Plan
        With `moved`: what could not be where the advice wants it, and why.

    Raises
    ------
    DataError
        No such rank, more than one borehole, or no zone that keeps every limit.
    """
    rows = [_row(site, "next_test", rank) for rank in ranks]
    holes = list(dict.fromkeys(str(row["borehole"]) for row in rows))
    if len(holes) > 1:
        raise UsageError(
            "plan",
            f"advised tests in {', '.join(holes)}",
            "tests in one borehole",
            "Plan one borehole at a time.",
        )
    wanted = [
        Wanted(
            float(row["top_m"]),
            float(row["bottom_m"]),
            row["packer"],
            row["spacer"],
            row["spacer"] is None,
        )
        for row in rows
    ]
    kept = as_asked(site, choices)
    return _planned(site, holes[0], wanted, purpose, kept)


def plan_of_borehole(
    site: Site,
    rank: int,
    name: str | None = None,
    *,
    purpose: str = "both",
    choices: Choices | None = None,
) -> Plan:
    """Plan the borehole of the table `next_borehole` with this rank.

    Parameters
    ----------
    site : Site
        As for `make_plan`, with the tables next_borehole and next_borehole_zone.
    rank : int
        Which.
    name : str, optional
        Of the new borehole; the first free one of N1, N2, ... when left out.
    purpose : str
        As for `make_plan`.
    choices : Choices, optional
        Equipment, pace and margins.

    Returns
    -------
    Plan
        With `new_hole`, the rows that the hole needs once it is drilled, and `moved`.

    Raises
    ------
    DataError
        No such rank, a name that is taken, or no zone that keeps every limit.
    """
    row = _row(site, "next_borehole", rank)
    zones = site.table("next_borehole_zone")
    own = records_of(zones[zones["rank"] == rank])
    depths = sorted({(float(z["top_m"]), float(z["bottom_m"])) for z in own})
    wanted = [Wanted(top, bottom) for top, bottom in depths]
    hole = _new_hole(site, row, _free_name(site, name))
    kept = as_asked(site, choices)
    return replace(_planned(with_hole(site, hole), hole.name, wanted, purpose, kept), new_hole=hole)


def with_hole(site: Site, hole: NewHole) -> Site:
    """The site as if the hole were drilled.

    Parameters
    ----------
    site : Site
        Tables borehole and construction.
    hole : NewHole
        The hole.

    Returns
    -------
    Site
        With a row more in borehole, and rows in construction.
    """
    place = shapely.Point(hole.x_m, hole.y_m, hole.ground_elevation_m)
    row = {
        "borehole": hole.name,
        "x": hole.x_m,
        "y": hole.y_m,
        "ground_elevation_m": hole.ground_elevation_m,
        "depth_m": hole.depth_m,
        "geometry": place,
    }
    built = [{"borehole": hole.name, **part} for part in hole.construction]
    return site.with_tables(
        {
            "borehole": _longer(site.boreholes, [row]),
            "construction": _longer(site.table("construction"), built),
        }
    )


def _longer(frame: pd.DataFrame, rows: Sequence[Row]) -> pd.DataFrame:
    columns = [c for c in frame.columns if any(c in row for row in rows)]
    new = pd.DataFrame([{c: row.get(c) for c in columns} for row in rows], columns=columns)
    new = new.reindex(columns=frame.columns).astype(
        {c: frame[c].dtype for c in columns if c != "geometry"}
    )
    return pd.concat([frame, new], ignore_index=True)


def _row(site: Site, table: str, rank: int) -> Row:
    rows = {int(r["rank"]): r for r in records_of(site.table(table)) if r["rank"] is not None}
    if rank in rows:
        return rows[rank]
    there = f"a rank from 1 to {max(rows)}" if rows else f"a table {table} that has rows"
    raise DataError(
        "plan", f"rank {rank}", there, f"'geoprofile advise SITE' lists the advice ({table})."
    )


def _free_name(site: Site, name: str | None) -> str:
    taken = set(site.boreholes["borehole"].astype(str))
    if name is None:
        return next(n for n in (f"N{k}" for k in range(1, len(taken) + 2)) if n not in taken)
    if name in taken:
        raise DataError(
            "plan", f"borehole '{name}', which exists", "a name for a new hole", "Choose another."
        )
    return name


def _new_hole(site: Site, row: Row, name: str) -> NewHole:
    """The hole as proposed, cased as deep as the advice assumed, and else like the nearest."""
    from geoprofile.engine import settings_used

    depth, casing_m = float(row["depth_m"]), float(settings_used(site, "next_borehole")["casing_m"])
    like = _nearest_built(site, float(row["x_m"]), float(row["y_m"]))
    widths = {part["kind"]: float(part["diameter_mm"]) for part in like}
    parts: list[dict[str, Any]] = []
    if "casing" in widths and casing_m > 0:
        parts.append(_part(0.0, casing_m, "casing", widths["casing"]))
    start = casing_m if parts else 0.0
    parts.append(_part(start, depth, "open hole", widths["open hole"]))
    return NewHole(
        name=name,
        x_m=float(row["x_m"]),
        y_m=float(row["y_m"]),
        longitude_deg=row["longitude_deg"],
        latitude_deg=row["latitude_deg"],
        ground_elevation_m=round(float(row["geometry"].z), 2),
        depth_m=depth,
        construction=tuple(parts),
    )


def _part(top: float, bottom: float, kind: str, diameter_mm: float) -> dict[str, Any]:
    return {"top_m": top, "bottom_m": bottom, "kind": kind, "diameter_mm": diameter_mm}


def _nearest_built(site: Site, x: float, y: float) -> list[Row]:
    """Construction of the nearest hole that has open hole, from top to bottom."""
    built: dict[str, list[Row]] = {}
    for part in records_of(site.table("construction").sort_values(["borehole", "top_m"])):
        built.setdefault(str(part["borehole"]), []).append(part)
    holes = site.boreholes
    order = np.argsort(np.hypot(holes["geometry"].x - x, holes["geometry"].y - y), kind="stable")
    for name in holes["borehole"].astype(str).iloc[order]:
        if any(part["kind"] == "open hole" for part in built.get(name, ())):
            return built[name]
    raise DataError(
        "plan of a new borehole",
        "no open hole in the table construction",
        "one hole that tells the diameters drilled at this site",
        "Load a table construction.",
    )


def _planned(
    site: Site, borehole: str, wanted: Sequence[Wanted], purpose: str, kept: Choices
) -> Plan:
    checked = purpose_of(purpose)
    hole = hole_of(site, borehole, kept)
    packer, spacer = equipment_for(site, hole, kept)
    setups: list[SetUp] = []
    moved: list[str] = []
    for zone in sorted(wanted, key=lambda z: z.top_m):
        setup, told = _nearest(site, hole, zone, packer, spacer, setups, kept)
        setups += [] if setup is None else [setup]
        moved += told
    if not setups:
        raise DataError(
            f"plan of {borehole}",
            f"no advised zone that the equipment can isolate: {'; '.join(moved)}",
            "at least one that keeps every limit",
            "Use other equipment or another open length; never raise a maker's limit.",
        )
    setups.sort(key=lambda s: s.top_m)
    plan = plan_of(site, hole, packer, spacer, Profile(tuple(setups), (), ()), checked, kept)
    return replace(plan, moved=tuple(moved))


def _nearest(
    site: Site,
    hole: Hole,
    zone: Wanted,
    packer: Packer,
    spacer: Spacer,
    before: Sequence[SetUp],
    kept: Choices,
) -> tuple[SetUp | None, list[str]]:
    """The allowed set-up nearest to a zone that overlaps none chosen before, and what moved."""
    rules = kept.rules
    used = _named(packers_of(site), "packer", zone.packer) if kept.packer is None else None
    length = _named(spacers_of(site), "spacer", zone.spacer) if kept.spacer is None else None
    tool, gap = used or packer, length or _of_length(site, zone, spacer, kept)
    exact = (
        packers.single(hole, tool, top_m=zone.top_m, rules=rules)
        if zone.to_the_bottom
        else packers.straddle(hole, tool, gap, top_m=round(zone.top_m, 2), rules=rules)
    )
    why = [*packers.faults(hole, exact, rules=rules), *_overlaps(exact, before)]
    same = abs(exact.length_m - (zone.bottom_m - zone.top_m)) < SAME_M
    if not why and same:
        return exact, []
    if not why:
        return exact, [_said(zone, exact, f"the open length on hand is {gap.open_length_m:g} m")]
    found = _closest(hole, tool, gap, zone, before, rules)
    if found is None:
        return None, [f"advised {zone.words}, left out: {why[0]}"]
    return found, [_said(zone, found, why[0])]


def _said(zone: Wanted, setup: SetUp, why: str) -> str:
    return f"advised {zone.words}, planned {setup.top_m:.2f} to {setup.bottom_m:.2f} m: {why}"


def _named(rows: Sequence[Any], table: str, name: str | None) -> Any:
    return next((row for row in rows if getattr(row, table) == name), None)


def _of_length(site: Site, zone: Wanted, spacer: Spacer, kept: Choices) -> Spacer:
    """The open length nearest to the zone's, unless the user fixed one."""
    if kept.spacer is not None:
        return spacer
    length = zone.bottom_m - zone.top_m
    return min(spacers_of(site), key=lambda s: (abs(s.open_length_m - length), s.spacer))


def _overlaps(setup: SetUp, before: Sequence[SetUp]) -> list[str]:
    return [
        f"it would overlap the zone {other.top_m:.2f} to {other.bottom_m:.2f} m"
        for other in before
        if min(setup.bottom_m, other.bottom_m) - max(setup.top_m, other.top_m) > SAME_M
    ]


def _closest(
    hole: Hole,
    packer: Packer,
    spacer: Spacer,
    zone: Wanted,
    before: Sequence[SetUp],
    rules: Rules,
) -> SetUp | None:
    """The allowed position nearest to the wanted one, within a zone's length of it."""
    middle = 0.5 * (zone.top_m + zone.bottom_m) - 0.5 * spacer.open_length_m
    reach = max(spacer.open_length_m, zone.bottom_m - zone.top_m)
    tops = {round(middle, 2)}
    for low, high in packers.allowed_tops(hole, packer, spacer, rules=rules):
        ends = [low, high, *(s.bottom_m for s in before)]
        ends += [s.top_m - spacer.open_length_m for s in before]
        tops |= {round(min(max(end, low), high), 2) for end in (middle, *ends)}
    for top in sorted(tops, key=lambda t: (abs(t - middle), t)):
        if abs(top - middle) > reach:
            return None
        setup = packers.straddle(hole, packer, spacer, top_m=top, rules=rules)
        if not packers.faults(hole, setup, rules=rules) and not _overlaps(setup, before):
            return setup
    return None
