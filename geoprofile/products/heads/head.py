"""Static heads per interval and time, and the vertical gradient between neighbours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoprofile.engine.rows import finding, frame
from geoprofile.geometry import Path
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.heads.inputs_levels import USUAL, dipped_level, unsaid_levels, zone_level
from geoprofile.site import Site, records_of

LEVEL_SD_M = 0.01  # [m] of a level dipped by hand; common practice, no source
WARN_APART_M = 0.1  # [m] more than this changes gradients and pressures that matter
WAY_COLUMNS = {"water_level": "depth_is", "interval": "static_depth_is"}
DIFFERENT_DAYS = 3.0  # [d] heads further apart in time are not compared


@dataclass(frozen=True)
class StaticHead:
    """One static head: where it was taken, when, and how high the water stood."""

    interval: str | None
    borehole: str
    measured_at: str | None
    head_m: float
    point: tuple[float, float, float]
    depth_m: float


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Heads from the static level of each zone and from the water-level table.

    Returns
    -------
    Mapping
        Table `head`: head [m] up from the vertical datum; vertical gradient [-], upward positive,
        with its standard deviation from that of the two levels.
    """
    heads = [*_zone_heads(site), *_level_heads(site)]
    rows, findings = _with_gradients(heads, float(settings.get("level_sd_m", LEVEL_SD_M)))
    findings += _unsaid(site)
    progress(1, 1)
    return {
        "head": frame("head", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _zone_heads(site: Site) -> list[StaticHead]:
    paths = paths_of(site)
    heads = []
    for row in records_of(site.intervals):
        path = paths[row["borehole"]]
        static = zone_level(path, row)
        if static is None:
            continue
        heads.append(_head(path, row, row["set_at"], static.elevation_m))
    return heads


def _level_heads(site: Site) -> list[StaticHead]:
    paths = paths_of(site)
    intervals = {r["interval"]: r for r in records_of(site.intervals)}
    heads = []
    for row in records_of(site.table("water_level")):
        path = paths[row["borehole"]]
        level = dipped_level(path, row)
        interval = intervals.get(row["interval"])
        if interval is not None:
            heads.append(_head(path, interval, row["measured_at"], level.elevation_m))
            continue
        # water above ground, or below the end of the hole, has no place in the hole
        place = min(max(np.nan_to_num(level.along_m, nan=path.length_m), 0.0), path.length_m)
        point = path.at(np.array([place]))[0]
        heads.append(
            StaticHead(
                None,
                row["borehole"],
                row["measured_at"],
                level.elevation_m,
                (float(point[0]), float(point[1]), level.elevation_m),
                place,
            )
        )
    return heads


def _head(path: Path, interval: Mapping[str, Any], when: str | None, head_m: float) -> StaticHead:
    middle = 0.5 * (interval["top_m"] + interval["bottom_m"])
    x, y, z = (float(v) for v in path.at(np.array([middle]))[0])
    return StaticHead(interval["interval"], interval["borehole"], when, head_m, (x, y, z), middle)


def _with_gradients(
    heads: list[StaticHead], level_sd_m: float
) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    by_hole: dict[str, list[StaticHead]] = defaultdict(list)
    for head in heads:
        by_hole[head.borehole].append(head)
    rows, findings = [], []
    for hole, members in sorted(by_hole.items()):
        ordered = sorted(members, key=lambda h: (h.depth_m, h.measured_at or ""))
        for head in ordered:
            below = _next_below(head, ordered)
            rows.append(_row(head) | _gradient(head, below, level_sd_m))
        findings += _silent(hole, ordered)
    return rows, findings


def _row(head: StaticHead) -> dict[str, Any]:
    return {
        "interval": head.interval,
        "borehole": head.borehole,
        "measured_at": head.measured_at,
        "head_m": head.head_m,
        "notes": None if head.interval else "open hole: a mean over all that it cuts",
        "geometry": shapely.Point(head.point),
    }


def _gradient(head: StaticHead, below: StaticHead | None, level_sd_m: float) -> dict[str, Any]:
    """Columns of the vertical gradient; a note where it is lost in the error of the levels."""
    if below is None:
        return {}
    apart = head.point[2] - below.point[2]
    gradient, sd = (below.head_m - head.head_m) / apart, np.sqrt(2.0) * level_sd_m / apart
    return {
        "vertical_gradient": gradient,
        "vertical_gradient_sd": float(sd),
        "next_interval": below.interval,
        "notes": "vertical gradient within twice its error" if abs(gradient) < 2 * sd else None,
    }


def _next_below(head: StaticHead, ordered: list[StaticHead]) -> StaticHead | None:
    """The nearest deeper zone of the same hole that was measured at about the same time."""
    if head.interval is None:
        return None
    for other in ordered:
        if (
            other.interval is not None
            and other.point[2] < head.point[2] - 0.1
            and _days_apart(head, other) <= DIFFERENT_DAYS
        ):
            return other
    return None


def _days_apart(a: StaticHead, b: StaticHead) -> float:
    if a.measured_at is None or b.measured_at is None:
        return float("inf")
    gap = pd.Timestamp(a.measured_at) - pd.Timestamp(b.measured_at)
    return abs(gap.total_seconds()) / 86400


def _unsaid(site: Site) -> list[dict[str, str]]:
    """A finding for each inclined hole whose levels do not say how they were measured."""
    return [
        finding(
            table,
            hole,
            f"a level of {depth:g} m in a hole that is not vertical, not said whether along the "
            f"hole or vertical; taken as {USUAL[table]}, the other is {apart:.2f} m off",
            what_to_do=f"Fill {WAY_COLUMNS[table]}: along the hole, or vertical.",
            severity="warning" if apart > WARN_APART_M else "note",
        )
        for hole, (table, depth, apart) in sorted(unsaid_levels(site, paths_of(site)).items())
    ]


def _silent(hole: str, heads: list[StaticHead]) -> list[dict[str, str]]:
    """A finding when a zone's head has no time: it cannot be compared with any other."""
    unknown = [h.interval or "open hole" for h in heads if h.measured_at is None]
    if not unknown:
        return []
    return [
        finding(
            "interval",
            hole,
            f"static level without a time in {len(unknown)} interval(s)",
            what_to_do="Fill set_at, or enter the level in the water_level table with its time.",
            severity="note",
        )
    ]


PLUGIN = Layer(
    name="head",
    summary="static heads per interval and time, vertical gradients between neighbours",
    reads=("borehole", "survey", "interval", "water_level"),
    writes=("head",),
    compute=compute,
    settings=(
        Setting("level_sd_m", LEVEL_SD_M, "m", "Standard deviation of one measured level", low=0),
    ),
)
