"""Each interval and analyte from round to round, and its trend from four rounds on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.engine.rows import frame
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.rounds.changes import change_of
from geoprofile.products.rounds.trends import trend_of
from geoprofile.site import Site, records_of

if TYPE_CHECKING:
    import pandas as pd

Row = Mapping[str, Any]
FEWEST_ROUNDS = 4  # below, no order of results is rare by chance
YEAR_S = 365.25 * 86400.0


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Changes from round to round, and trends."""
    groups: dict[tuple[str, str, str], dict[str, Row]] = defaultdict(dict)
    for row in records_of(site.concentration):
        key = (str(row["analyte"]), str(row["medium"]), str(row["interval"]))
        groups[key][str(row["sampled_round"])] = row
    changes: list[dict[str, Any]] = []
    trends: list[dict[str, Any]] = []
    for key in sorted(groups):
        series = sorted(groups[key].values(), key=lambda r: str(r["sampled_at"] or ""))
        changes += _changes(series)
        trends += _trends(series, float(settings["significance"]), float(settings["confidence"]))
    progress(1, 1)
    return {
        "round_change": frame("round_change", changes, site.crs),
        "trend": frame("trend", trends, site.crs),
    }


def _of_interval(row: Row) -> dict[str, Any]:
    names = ("interval", "borehole", "top_m", "bottom_m", "analyte", "medium")
    return {name: row[name] for name in names}


def _changes(series: Sequence[Row]) -> Iterator[dict[str, Any]]:
    """A row for every two rounds that follow each other in this interval."""
    for before, now in pairwise(series):
        change, scatter, verdict = change_of(before, now)
        yield {
            **_of_interval(now),
            "round_before": before["sampled_round"],
            "round": now["sampled_round"],
            "sampled_before": before["sampled_at"],
            "sampled_at": now["sampled_at"],
            "value_before_ug_per_l": before["value_ug_per_l"],
            "limit_before_ug_per_l": before["limit_ug_per_l"],
            "value_ug_per_l": now["value_ug_per_l"],
            "limit_ug_per_l": now["limit_ug_per_l"],
            "change_log10": change,
            "scatter_log10": scatter,
            "verdict": verdict,
        }


def _trends(
    series: Sequence[Row], significance: float, confidence: float
) -> Iterator[dict[str, Any]]:
    """One row, from four dated rounds on that say something."""
    known = [r for r in series if r["sampled_at"] and (r["detected"] or r["limit_ug_per_l"])]
    if len({str(r["sampled_at"]) for r in known}) < FEWEST_ROUNDS:
        return
    year = np.array([_seconds(str(r["sampled_at"])) for r in known]) / YEAR_S
    value = np.array([r["value_ug_per_l"] if r["detected"] else np.nan for r in known], dtype=float)
    limit = np.array([np.nan if r["detected"] else r["limit_ug_per_l"] for r in known], dtype=float)
    found = trend_of(year - year[0], value, limit, confidence=confidence)
    sure = found.p <= significance
    yield {
        **_of_interval(known[-1]),
        "rounds": len(known),
        "nondetects": int(np.isnan(value).sum()),
        "first_sampled_at": known[0]["sampled_at"],
        "sampled_at": known[-1]["sampled_at"],
        "s": found.s,
        "p": found.p,
        "slope_ug_per_l_year": found.slope,
        "slope_low_ug_per_l_year": found.slope_low,
        "slope_high_ug_per_l_year": found.slope_high,
        "verdict": "none shown" if not sure else "rising" if found.s > 0 else "falling",
    }


def _seconds(text: str) -> float:
    return datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


PLUGIN = Layer(
    name="rounds",
    summary="change of each interval from round to round, and its trend",
    reads=("concentration",),
    writes=("round_change", "trend"),
    compute=compute,
    settings=(
        Setting("significance", 0.1, "1", "Two-sided p below which a trend is told", low=0, high=1),
        Setting(
            "confidence", 0.9, "1", "Confidence of the interval of the slope", low=0.5, high=0.99
        ),
    ),
)
