"""How much there is and how well it is known: extents, discharge, coverage, samples."""

from __future__ import annotations

from geoprofile.report.answer import limits
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, listed, number, part, short, words
from geoprofile.report.origins import run_link
from geoprofile.report.tables import Shown, field, table
from geoprofile.report.trial_sites import CHANCES, RANGES

RUN = Shown("Run", run_link, is_html=True)
NOMINAL = (50, 80, 95)
SIZE, LEFT, TOP, SPAN = 300.0, 44.0, 12.0, 230.0
MARKS = ("M-5 0h10M0-5v10", "M-4-4h8v8h-8z", "M0-5l5 5-5 5-5-5z", "M-4-4l8 8M4-4l-8 8")


def extents(content: Content) -> str:
    """Area, volume and mass above the criterion by probability, with their ranges."""
    rows = [r for r in content.rows("plume_extent") if r["surface"] == "any depth"]
    columns = [
        field("Substance", "analyte"),
        field("Round", "round"),
        field("Criterion", "criterion_ug_per_l", "ug/L"),
        Shown("Probability of exceeding", lambda r: _percent(r["probability"]), key="probability"),
        field("Area", "area_m2", "m2"),
        field("Volume", "volume_m3", "m3"),
        field("10 %", "volume_low_m3", "m3"),
        field("90 %", "volume_high_m3", "m3"),
        field("Dissolved mass", "mass_kg", "kg"),
        RUN,
    ]
    passed = [
        field("Section", "section"),
        field("Substance", "analyte"),
        field("Round", "round"),
        field("Discharge", "discharge_g_per_day", "g/d"),
        field("10 %", "discharge_low_g_per_day", "g/d"),
        field("90 %", "discharge_high_g_per_day", "g/d"),
        field("Lower bound with the gradient", "discharge_least_g_per_day", "g/d"),
        field("Upper bound with the gradient", "discharge_most_g_per_day", "g/d"),
        Shown("Notes", lambda r: f"N{notes.index(r['notes']) + 1}" if r["notes"] else None),
        RUN,
    ]
    notes = list(dict.fromkeys(r["notes"] for r in content.rows("discharge") if r["notes"]))
    inner = listed(limits(content))
    inner += table("Extents above the criterion at any depth", columns, rows)
    inner += listed([RANGES, CHANCES] if rows else [])
    inner += table("Mass discharge through sections", passed, content.rows("discharge"))
    inner += listed(f"N{n}: {words(note)}" for n, note in enumerate(notes, start=1))
    return part("amounts", "Extents and mass discharge", inner)


def _percent(share: float | None) -> str | None:
    return None if share is None else f"{100 * share:.0f} %"


def coverage(content: Content) -> str:
    """How many left-out values lie in the intervals that were given for them, as a figure."""
    rows = [r for r in content.rows("model") if r["coverage_80"] is not None]
    if not rows:
        return ""
    marks = "".join(_marks(row, place) for place, row in enumerate(rows))
    ticks = "".join(
        f'<path class="grid" d="M{_x(p):.1f} {TOP}v{SPAN}M{LEFT} {_y(p):.1f}h{SPAN}"/>'
        f'<text class="small" text-anchor="middle" x="{_x(p):.1f}" y="{TOP + SPAN + 15:.1f}">{p}'
        f'</text><text class="small" text-anchor="end" x="{LEFT - 5}" y="{_y(p) + 4:.1f}">{p}'
        "</text>"
        for p in (0, *NOMINAL, 100)
    )
    keys = " · ".join(
        f'<svg class="box" viewBox="-8 -8 16 16" width="16" height="16" aria-hidden="true"><path '
        f'class="mark" d="{MARKS[i % len(MARKS)]}"/></svg> {short(r["quantity"])}'
        f"{'' if r['round'] is None else ' ' + short(r['round'])}"
        for i, r in enumerate(rows)
    )
    return (
        f'<figure class="coverage"><svg viewBox="0 0 {SIZE:.0f} {SIZE:.0f}" role="img" '
        f'aria-label="Cross-validation: share of left-out values in their interval">{ticks}'
        f'<path class="even" d="M{_x(0)} {_y(0)}L{_x(100)} {_y(100)}"/>{marks}'
        f'<text class="small" text-anchor="middle" x="{LEFT + SPAN / 2}" y="{TOP + SPAN + 32:.1f}">'
        f"stated interval [%]; found inside, upwards [%]</text></svg><figcaption>{keys}. A "
        "calibrated model lies on the line; below it the map is less sure than it looks."
        "</figcaption></figure>"
    )


def _marks(row: Row, place: int) -> str:
    return "".join(
        f'<path class="mark" transform="translate({_x(p):.1f} {_found(row, p):.1f})"'
        f' d="{MARKS[place % len(MARKS)]}"><title>{escaped(row["quantity"])}: '
        f"{number(100 * row[f'coverage_{p}'])} % in the {p} % interval</title></path>"
        for p in NOMINAL
        if row[f"coverage_{p}"] is not None
    )


def _found(row: Row, percent: int) -> float:
    return _y(100 * float(row[f"coverage_{percent}"]))


def _x(percent: float) -> float:
    return LEFT + SPAN * percent / 100


def _y(percent: float) -> float:
    return TOP + SPAN * (1 - percent / 100)


def sampling(content: Content) -> str:
    """What duplicates, blanks and holding of samples say about the results."""
    rows = [r for r in content.rows("finding") if r["step"] == "concentration"]
    kinds: dict[str, int] = {}
    for row in content.rows("sample"):
        kind = str(row.get("kind") or "not stated")
        kinds[kind] = kinds.get(kind, 0) + 1
    counts = ", ".join(f"{n} {escaped(kind)}" for kind, n in sorted(kinds.items()))
    columns = [
        field("Row", "row_key"),
        field("What", "what"),
        field("Severity", "severity"),
        field("What to do", "what_to_do"),
    ]
    inner = f"<p>Samples by kind: {counts or 'none'}.</p>" + table(
        "Findings on samples and results",
        columns,
        rows,
        none="none; no duplicate or blank gave a reason for one",
    )
    checks = [
        field("Check", "check_of"),
        field("Sample", "sample"),
        field("Of", "other_sample"),
        field("Interval", "interval"),
        field("Round", "round"),
        field("Substance", "analyte"),
        field("Found", "value_ug_per_l", "ug/L"),
        field("Limit", "limit_ug_per_l", "ug/L"),
        field("In the primary sample", "other_value_ug_per_l", "ug/L"),
        Shown(
            "Relative difference",
            lambda r: _percent(r["relative_difference"]),
            key="relative_difference",
        ),
        field("Held", "held_d", "d", 2),
        field("At most", "holding_limit_d", "d", 2),
        field("Verdict", "verdict"),
        field("Notes", "notes"),
        RUN,
    ]
    worst = {"doubtful": 0, "not comparable": 1, "fine": 2}
    quality_rows = sorted(
        content.rows("sampling_quality"), key=lambda r: worst.get(str(r["verdict"]), 3)
    )
    inner += table(
        "Duplicates, blanks and holding times, the doubtful first",
        checks,
        quality_rows,
        none="no duplicate, blank or time of analysis was given.",
    )
    return part("sampling", "Quality of sampling", inner)
