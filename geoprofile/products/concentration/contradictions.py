"""Results that contradict each other or their place: told as findings, never left out."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.engine.rows import finding
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.heads.inputs_levels import latest_levels
from geoprofile.schema.soil_gas import SOIL_GAS
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Row = Mapping[str, Any]
DIP_SLACK_M = 0.1  # [m] what a dip and the depth of a zone may differ by


def at_one_place(rows: Sequence[Row], *, within_m: float, factor: float) -> list[dict[str, str]]:
    """A finding for results of different zones at one place that lie decades apart.

    Parameters
    ----------
    rows : sequence of Mapping
        Of the table `concentration`, with their geometry.
    within_m : float [m]
        Middles of two zones so near to each other are one place.
    factor : float [-]
        Told from this ratio on; a limit stands for a non-detect, so the true ratio is larger.

    Returns
    -------
    list of dict
        Findings.
    """
    groups: dict[tuple[str, ...], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row["analyte"], row["round"], row["medium"]].append(row)
    found = []
    for (analyte, round_name, _), members in sorted(groups.items()):
        middles = [_middle(row) for row in members]
        for i, j in combinations(range(len(members)), 2):
            apart = math.dist(middles[i], middles[j])
            ratio = _ratio(members[i], members[j])
            if apart <= within_m and ratio >= factor:
                found.append(_told(members[i], members[j], analyte, round_name, ratio, apart))
    return found


def _middle(row: Row) -> tuple[float, ...]:
    points = np.asarray(row["geometry"].coords, dtype=float)
    return tuple(float(v) for v in 0.5 * (points[0] + points[-1]))


def _ratio(one: Row, other: Row) -> float:
    """How many times the larger result exceeds the smaller; 1 where that is not known."""
    if not (one["detected"] or other["detected"]):
        return 1.0
    high, low = sorted((one, other), key=_size, reverse=True)
    if not high["detected"] or not _size(low):
        return 1.0  # the limit of the non-detect lies above the value
    return _size(high) / _size(low)


def _size(row: Row) -> float:
    value = row["value_ug_per_l"] if row["detected"] else row["limit_ug_per_l"]
    return 0.0 if value is None else float(value)


def _told(
    one: Row, other: Row, analyte: str, round_name: str, ratio: float, apart_m: float
) -> dict[str, str]:
    return finding(
        "result",
        f"{one['interval']} {other['interval']} {analyte}",
        f"two results of {analyte} ({round_name}) {apart_m:.1f} m apart differ by a factor of"
        f" {float(f'{ratio:.2g}'):,g}",
        what_to_do="Check coordinates, depths, samples and units; both results stay in use.",
        severity="warning",
    )


def gas_under_water(site: Site, results: Sequence[Row]) -> list[dict[str, str]]:
    """A finding for every soil-gas sample from a zone that starts below the water level.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, interval and water_level.
    results : sequence of Mapping
        Results with interval, borehole, top_m, medium and sample.

    Returns
    -------
    list of dict
        Findings.
    """
    gas = {str(r["sample"]): r for r in results if r["medium"] == SOIL_GAS}
    if not gas:
        return []
    paths = paths_of(site)
    levels = latest_levels(paths, records_of(site.intervals), records_of(site.table("water_level")))
    found = []
    for name, row in sorted(gas.items()):
        level = levels.get(str(row["borehole"]))
        under = 0.0 if level is None else float(row["top_m"]) - level.along_m
        if under > DIP_SLACK_M:
            found.append(
                finding(
                    "sample",
                    name,
                    f"a soil-gas sample from {row['interval']}, which starts {under:.1f} m below"
                    " the water level",
                    what_to_do="Check the medium, the depths and the level.",
                    severity="warning",
                )
            )
    return found
