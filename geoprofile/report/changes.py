"""What changed: since the run before in every key figure, and since the round before."""

from __future__ import annotations

import json

from geoprofile.drawing.symbols import units_in
from geoprofile.report.content import Content, Row
from geoprofile.report.key_figures import Figures, differences
from geoprofile.report.key_figures import words as told_in_words
from geoprofile.report.markup import escaped, listed, part, words
from geoprofile.report.origins import run_link
from geoprofile.report.tables import Shown, field, table

MOST_LINES = 30  # figures of single intervals beyond are counted in words
OF_INTERVALS = ("k_m_per_s",)  # figures of which there is one for each interval


def changes(content: Content) -> str:
    """Changes since the last revision of the numbers, and of plumes since the round before."""
    return part("changes", "What changed", _since_the_run_before(content) + _plumes(content))


def _since_the_run_before(content: Content) -> str:
    computed = [r for r in content.rows("run") if r.get("figures")]
    if len(computed) < 2:
        return "<p>These are the first numbers of this site file: there is nothing before them.</p>"
    before, now = computed[-2:]
    old, new = _figures(before), _figures(now)
    head = f"<p>From {_run(before)} to {_run(now)}:</p>"
    lines = listed([escaped(line) for line in told_in_words(old, new)])
    rows = [
        {"figure": f, "item": i, "before": a, "after": b, "change": c}
        for f, i, a, b, c in differences(old, new)
        if f not in OF_INTERVALS
    ]
    columns = [
        Shown("Figure", lambda r: str(r["figure"]).replace("_", " ")),
        field("Item", "item"),
        field("Before", "before"),
        field("Now", "after"),
        Shown("Change", lambda r: units_in(str(r["change"]))),
    ]
    shown = table("Figures that changed", columns, rows[:MOST_LINES]) if rows else ""
    more = len(rows) - MOST_LINES
    rest = f"<p>{more} more; `geoprofile compare` lists them all.</p>" if more > 0 else ""
    return head + lines + shown + rest


def _figures(run: Row) -> Figures:
    found: Figures = json.loads(run["figures"])
    return found


def _run(row: Row) -> str:
    return f"{run_link(row)} ({words(row['started_at'])})"


def _plumes(content: Content) -> str:
    """Ground gained and lost between rounds, where every round was mapped."""
    rows = content.rows("plume_change")
    if not rows:
        return (
            '<p>Plumes are compared from round to round where <code>rounds = "all"</code> maps '
            "every round.</p>"
        )
    columns = [
        field("Substance", "analyte"),
        field("From", "round_before"),
        field("To", "round"),
        field("What", "what"),
        field("Area", "area_m2", "m2"),
        field("Notes", "notes"),
    ]
    return table("Plumes since the round before", columns, rows)
