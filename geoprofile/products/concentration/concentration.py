"""One concentration per interval, analyte and campaign, from primary and duplicate samples."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from statistics import fmean
from typing import Any

import numpy as np
import pandas as pd

from geoprofile.engine.rows import finding, frame, joined, number, text
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.concentration.campaigns import declared_campaigns, in_campaigns
from geoprofile.products.concentration.contradictions import at_one_place, gas_under_water
from geoprofile.products.concentration.filled import marked_old, told
from geoprofile.products.concentration.inputs import criteria_ug_per_l, measured
from geoprofile.site import Site, records_of

Record = Mapping[str, Any]
OLD_DAYS = 400.0  # [d] more than a year of quarterly or yearly rounds
SMALLEST_SD = 0.02  # [-] log10; no laboratory repeats itself better than 5 %


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Results of a zone and round brought together; a non-detect keeps its limit and no value.

    Returns
    -------
    Mapping
        Table `concentration` [ug/L]; findings on duplicates, blanks, rejected results, and on what
        a campaign holds of earlier rounds.

    Notes
    -----
    A campaign, and what a round takes over from earlier ones: see `campaigns`. Duplicates are
    averaged for the map and stay apart in the results. The spread of log10 of one sample comes from
    the duplicates of all analytes, sd = sqrt(mean(d^2) / 2), d the difference of log10 within a
    pair (common practice, no source).
    """
    results = measured(site)
    rejected = _rejected(results)
    real = results[(results["kind"] != "blank") & ~rejected]
    sd, findings = _repeatability(real, settings)
    findings += _left_out(results[rejected])
    findings += _blanks(results)
    findings += gas_under_water(site, records_of(results))
    criteria = {medium: criteria_ug_per_l(site, medium) for medium in set(results["medium"])}
    lines = interval_lines(site)
    groups: dict[tuple[str, ...], list[Record]] = defaultdict(list)
    for row in records_of(real):
        groups[row["analyte"], row["round"], row["medium"], row["interval"]].append(row)
    by_round = [_row(key, groups[key], sd, criteria[key[2]], lines) for key in sorted(groups)]
    findings += at_one_place(
        by_round,
        within_m=float(settings["one_place_m"]),
        factor=float(settings["one_place_factor"]),
    )
    declared = declared_campaigns(settings.get("campaigns") or [])
    old_days = float(settings.get("old_days", OLD_DAYS))
    rows = marked_old(in_campaigns(by_round, declared), old_days)
    findings += told(rows, declared, {str(r["round"]) for r in by_round}, old_days)
    progress(1, 1)
    return {
        "concentration": frame("concentration", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _rejected(results: pd.DataFrame) -> pd.Series[bool]:
    """Results that the laboratory or the validator rejected (qualifier R)."""
    return results["qualifier"].fillna("").astype(str).str.upper().str.strip().eq("R")


def _left_out(rejected: pd.DataFrame) -> list[dict[str, str]]:
    """A finding for every rejected result: nothing else shows that it was measured."""
    return [
        finding(
            "result",
            f"{row['sample']} {row['analyte']}",
            "rejected (qualifier R) and left out",
            what_to_do="Have it analysed again, or correct the qualifier.",
        )
        for row in records_of(rejected)
    ]


def _row(
    key: Sequence[str],
    group: Sequence[Record],
    sd: float,
    criteria: Mapping[str, float],
    lines: Mapping[str, Any],
) -> dict[str, Any]:
    import shapely

    analyte, round_name, medium, interval = key
    hits = [float(row["value_ug_per_l"]) for row in group if row["detected"]]
    limits = [n for row in group if (n := number(row["limit_ug_per_l"])) is not None]
    value = fmean(hits) if hits else None
    limit = None if hits else min(limits, default=None)
    notes = [] if len(hits) in (0, len(group)) else ["detected in one sample of a pair only"]
    qualifiers = {text(row["qualifier"]) for row in group} - {None}
    notes += [f"qualifier {q}" for q in sorted(map(str, qualifiers))]
    first = group[0]
    return {
        "interval": interval,
        "borehole": first["borehole"],
        "top_m": first["top_m"],
        "bottom_m": first["bottom_m"],
        "analyte": analyte,
        "round": round_name,
        "medium": medium,
        "sampled_at": max(filter(None, (text(row["sampled_at"]) for row in group)), default=None),
        "value_ug_per_l": value,
        "detected": bool(hits),
        "limit_ug_per_l": limit,
        "sd_log10": sd / np.sqrt(max(1, len(hits))),
        "samples": len({row["sample"] for row in group}),
        "exceeds": _exceeds(value, limit, criteria.get(analyte)),
        "notes": joined(notes),
        "geometry": shapely.LineString(lines[interval]),
    }


def _exceeds(value: float | None, limit: float | None, criterion: float | None) -> bool | None:
    """Above the criterion, or None where the limit of a non-detect lies above it."""
    if criterion is None:
        return None
    if value is not None:
        return value > criterion
    return False if limit is not None and limit <= criterion else None


def _repeatability(
    results: pd.DataFrame, settings: Mapping[str, Any]
) -> tuple[float, list[dict[str, str]]]:
    """Spread of log10 of one sample from its duplicates, and a finding per poor pair."""
    gaps, findings = [], []
    hits = results[results["detected"].astype(bool)]
    for key, group in hits.groupby(["interval", "round", "analyte", "medium"], sort=True):
        values = group["value_ug_per_l"].to_numpy(dtype=float)
        if len(values) < 2 or values.min() <= 0:
            continue
        gaps.append(float(np.log10(values.max() / values.min())))
        difference = 100 * (values.max() - values.min()) / values.mean()
        if difference > float(settings["largest_difference"]):
            findings.append(_poor_pair(key, difference))
    if not gaps:
        return float(settings["sd_log10"]), findings
    return max(SMALLEST_SD, float(np.sqrt(np.mean(np.square(gaps)) / 2))), findings


def _poor_pair(key: Sequence[Any], difference: float) -> dict[str, str]:
    interval, round_name, analyte, _ = key
    return finding(
        "sample",
        f"{interval} {round_name}",
        f"duplicate {analyte} results differ by {difference:.0f} %",
        what_to_do="Ask the laboratory, or sample again; both results stay in use.",
    )


def _blanks(results: pd.DataFrame) -> list[dict[str, str]]:
    """A finding for every substance found in a blank."""
    hits = results[(results["kind"] == "blank") & results["detected"].astype(bool)]
    return [
        finding(
            "result",
            f"{row['sample']} {row['analyte']}",
            f"{row['analyte']} at {row['value_ug_per_l']:.3g} ug/L in a blank",
            what_to_do="Treat results of the same round below five times that value with doubt.",
        )
        for row in records_of(hits)
    ]


PLUGIN = Layer(
    name="concentration",
    summary="one concentration per interval, analyte and campaign",
    reads=("borehole", "survey", "interval", "water_level", "sample", "result", "criterion"),
    writes=("concentration",),
    compute=compute,
    settings=(
        Setting(
            "one_place_m", 1.0, "m", "Zones whose middles are so near count as one place", low=0
        ),
        Setting(
            "one_place_factor",
            100.0,
            "1",
            "Ratio of two results at one place from which a finding is made",
            low=1,
        ),
        Setting(
            "sd_log10", 0.08, "1", "Spread of log10 of one sample without duplicates", low=0, high=3
        ),
        Setting(
            "largest_difference",
            30.0,
            "%",
            "Difference of duplicates, relative to their mean, above which a finding is made",
            low=0,
        ),
        Setting(
            "campaigns",
            [],
            "",
            'Rounds that count as one, each as "name: round, round"; the latest result of each '
            "interval among them is used, and nothing earlier. A round that is in none also holds "
            "the earlier results of the intervals that it did not visit",
        ),
        Setting(
            "old_days",
            OLD_DAYS,
            "d",
            "Age before the latest sample of its campaign from which a result is marked as old",
            low=0,
        ),
    ),
)
