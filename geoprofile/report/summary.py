"""The closing words of a run: what a hydrogeologist would read aloud."""

from __future__ import annotations

import math
from typing import Any

from geoprofile.drawing.people import counted_in, shown_in, shown_of
from geoprofile.plugins.registry import told_by_all
from geoprofile.report.beyond_results import (
    extent_in_words,
    only_possible,
    possible_in_words,
    rests_on_model,
)
from geoprofile.report.next_tables import next_tables, too_few_for_a_map
from geoprofile.schema.finding import SEVERITIES
from geoprofile.site import Site, records_of

MOST_EDITS = 2  # told in the closing words
FEWEST_BOREHOLES = 3  # that span a map of a concentration
STOPS = "; it stops at the surfaces between hydrostratigraphic units"


def summary(site: Site) -> tuple[str, ...]:
    """About ten lines: tests and grades, K, fields, plume, the worst finding, how earlier advice
    did, the best next test.
    """
    with shown_in(shown_of(site)):
        return _summary(site)


def _summary(site: Site) -> tuple[str, ...]:
    lines = [
        _site_line(site),
        *_told("limits", site),
        _test_line(site),
        _k_line(site),
        *_field_lines(site),
        *_plume_lines(site),
        *_told("summary", site),
        _flow_line(site),
        _discharge_line(site),
        _edit_line(site),
        _finding_line(site),
        *records(site),
        _next_line(site),
        _more_line(site),
        "Caution: interpolated from a few boreholes. Decisions on health, drilling or pressure "
        "need local codes, the makers' limits and a licensed professional.",
    ]
    return tuple(line for line in lines if line)


def _told(what: str, site: Site) -> list[str]:
    told, failed = told_by_all(what, site)
    return told + failed


def _site_line(site: Site) -> str:
    return (
        f"{site.name}: {len(site.boreholes)} boreholes, {len(site.intervals)} intervals, "
        f"{len(site.tests)} tests, {len(site.table('sample'))} samples."
    )


def _test_line(site: Site) -> str:
    table = site.table("conductivity")
    if table.empty:
        return ""
    best = table[table["preferred"].astype(bool)]
    graded = best["grade"].value_counts()
    none = len(set(table["test"]) - set(best["test"]))
    rejected = int(graded.get("rejected", 0)) + none
    left = len(site.tests) - table["test"].nunique()
    return (
        f"Tests: {graded.get('accepted', 0)} accepted, {graded.get('qualified', 0)} qualified, "
        f"{rejected} rejected{f', {left} not analysed' if left > 0 else ''}."
    )


def _k_line(site: Site) -> str:
    table = site.conductivity
    used = table[(table["grade"] != "rejected") & table["k_m_per_s"].notna()]
    if used.empty:
        return ""
    k = used["k_m_per_s"].astype(float)
    median_factor = 10 ** (1.96 * float(used["sd_log10_k"].astype(float).median()))
    return (
        f"K: {k.min():.1e} to {k.max():.1e} m/s in {len(used)} intervals, "
        f"median {k.median():.1e} m/s; a typical value is known within a factor of "
        f"{median_factor:.1f} (95 %)."
    )


def _field_lines(site: Site) -> list[str]:
    return [
        f"Field of {row['quantity']}{_round(row['round'])}: {row['data_count']} intervals, "
        f"{row['nondetect_count']} below their limit; {100 * row['coverage_80']:.0f} % of held-out "
        "values lie in their 80 % interval, typical error a factor of "
        f"{10 ** row['rmse_log10']:.1f}{STOPS if row.get('geology') == 'units' else ''}."
        for row in records_of(site.table("model"))
        if row["coverage_80"] is not None and row["rmse_log10"] is not None and _spans(row)
    ]


def _spans(row: dict[str, Any]) -> bool:
    """Whether a field is one to speak of: a concentration needs three boreholes."""
    return bool(row["quantity"] == "K" or row["borehole_count"] >= FEWEST_BOREHOLES)


def _round(name: str | None) -> str:
    return "" if name is None else f" ({name})"


def _plume_lines(site: Site) -> list[str]:
    table = site.table("plume_extent")
    wide = table[(table["surface"] == "any depth") & (table["probability"] == 0.5)]
    bounds = records_of(site.table("plume_line"))
    possible = only_possible(records_of(table))
    results = records_of(site.table("concentration")) if len(table) else []
    lines = []
    for row in records_of(wide):
        own = [b for b in bounds if (b["analyte"], b["round"]) == (row["analyte"], row["round"])]
        caveat = rests_on_model(row, results)
        # nothing lies surely inside a plume that no result shows
        told = [b for b in own if not (caveat and b["line"] == "inner")]
        named = f"{row['analyte']}{_round(row['round'])}"
        lines.append(f"{named} {extent_in_words(row, caveat)}.{_bounds(told)}")
    for row in possible:
        words = possible_in_words(row, rests_on_model(row, results))
        lines.append(f"{row['analyte']}{_round(row['round'])} {words}.")
    return lines


def _bounds(rows: list[dict[str, Any]]) -> str:
    """The lines of confidence in words."""
    named = {row["line"]: row for row in rows}
    outer, inner = named.get("outer"), named.get("inner")
    if outer is None:
        return ""
    sure = f"with {100 * outer['confidence']:.0f} % confidence"
    text = (
        f" The outer line ({counted_in(outer['area_m2'], 'm2')}) holds the plume on the map, but "
        f"for specks, {sure}"
    )
    if not outer["closed"]:
        text += f", but is {outer['notes'] or 'open'}"
    if inner is not None:
        text += f"; {counted_in(inner['area_m2'], 'm2')} lie wholly inside the plume"
    return text + "."


def _flow_line(site: Site) -> str:
    table = site.table("flow")
    if table.empty:
        return ""
    row = table.iloc[0]
    spread = float(row["azimuth_sd_deg"])
    known = "under 1" if spread < 1 else f"{spread:.0f}"
    sure = f" (sd {known} deg)" if math.isfinite(spread) else ""
    return f"Flow: gradient {row['gradient']:.4f} towards {row['azimuth_deg']:.0f} deg{sure}."


def _discharge_line(site: Site) -> str:
    """The largest mass discharge of each analyte, with its two ranges."""
    rows = sorted(records_of(site.table("discharge")), key=lambda r: r["discharge_g_per_day"])
    largest = {row["analyte"]: row for row in rows}
    each = [
        f"{name} {row['discharge_g_per_day']:.2g} g/d through section {row['section']} "
        f"({row['discharge_least_g_per_day']:.2g} to {row['discharge_most_g_per_day']:.2g}; "
        f"{row['discharge_low_g_per_day']:.2g} to {row['discharge_high_g_per_day']:.2g}"
        f"{_assumed(row.get('assumed_share'))})"
        for name, row in sorted(largest.items())
    ]
    if not each:
        return ""
    return (
        f"Mass discharge: {', '.join(each)}. In brackets what to reckon with, since a mean "
        "gradient is too steep where K is high; then 10 to 90 % of the simulated fields."
    )


def _assumed(share: float | None) -> str:
    """How much of a discharge passes where the shape is assumed."""
    return "" if share is None else f"; {100 * share:.0f} % where the shape is assumed"


def _finding_line(site: Site) -> str:
    table = site.table("finding")
    for severity in SEVERITIES:
        rows = table[(table["severity"] == severity) & (table["step"] != "load")]
        if len(rows):
            worst = rows.iloc[0]
            return (
                f"Findings: {len(table)}; the worst ({severity}): {worst['source_table']} "
                f"{worst['row_key']}: {worst['what']}"
            )
    return f"Findings: {len(table)}."


def _edit_line(site: Site) -> str:
    """Where the files and the database say different things."""
    table = site.table("finding")
    rows = records_of(table[table["step"] == "load"])
    if not rows:
        return ""
    rows.sort(key=lambda row: SEVERITIES.index(row["severity"]))
    told = "; ".join(
        f"{row['source_table']} {row['row_key']} {row['what']}" for row in rows[:MOST_EDITS]
    )
    more = f"; {len(rows) - MOST_EDITS} more in the findings" if len(rows) > MOST_EDITS else ""
    return f"Files and database differ: {told}{more}."


def _more_line(site: Site) -> str:
    """Why there is no map, and which tables would add what."""
    text = ""
    if too_few_for_a_map(site):
        text = "Figures: profiles along each hole; a map needs three boreholes. "
    more = next_tables(site)
    return text + (f"More would come from {'; '.join(more)}." if more else "")


def _next_line(site: Site) -> str:
    steps, failed = told_by_all("steps", site)
    if not steps:
        return " ".join(failed)
    more = f" {len(steps) - 1} more in one list: geoprofile advise." if len(steps) > 1 else ""
    return " ".join((f"Best next step: {steps[0].partition('. ')[2]}.{more}", *failed))


def records(site: Site) -> list[str]:
    """How well what was proposed or predicted earlier did, by every product that keeps account."""
    return _told("records", site)
