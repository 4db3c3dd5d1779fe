"""Results round by round: what changed, how far duplicates scatter, and which trends show."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

from geoprofile.drawing.symbols import shown_unit
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import bare, escaped, part, short
from geoprofile.report.origins import run_link
from geoprofile.report.tables import Shown, field, table

RUN = Shown("Run", run_link, is_html=True)
MOST_LINES = 40  # intervals drawn of one substance; the table holds all
LEFT, RIGHT, LINE, TOP = 150.0, 640.0, 16.0, 26.0  # [px]
WORDS = (
    "A change is told as a rise or a fall only where it is larger than 95 % of the differences "
    "between duplicates would be. A trend is tested from four rounds on: Mann-Kendall, with Sen's "
    "slope."
)


def rounds(content: Content) -> str:
    """Changes and trends as tables and as a figure."""
    changes = content.rows("round_change")
    inner = "<p>No interval was sampled twice yet.</p>"
    if changes:
        inner = f"<p>{WORDS}</p>" + _figures(changes) + _changes(content) + _trends(content)
    return part("rounds", "From round to round", inner)


def _changes(content: Content) -> str:
    columns = [
        field("Borehole", "borehole"),
        field("Interval", "interval"),
        field("Top", "top_m", "m"),
        field("Bottom", "bottom_m", "m"),
        field("Substance", "analyte"),
        field("From", "round_before"),
        field("to", "round"),
        Shown("Before", lambda r: _told(r, "_before"), "ug/L"),
        Shown("After", lambda r: _told(r, ""), "ug/L"),
        Shown("Factor", lambda r: _factor(r["change_log10"])),
        Shown("Duplicates within a factor of", lambda r: _factor(r["scatter_log10"])),
        field("Verdict", "verdict"),
        RUN,
    ]
    rows = content.rows("round_change")
    return table("Change from round to round", columns, rows, hole_of=content.hole)


def _trends(content: Content) -> str:
    columns = [
        field("Borehole", "borehole"),
        field("Interval", "interval"),
        field("Substance", "analyte"),
        field("Rounds", "rounds"),
        field("Not detected", "nondetects"),
        field("From (UTC)", "first_sampled_at"),
        field("to", "sampled_at"),
        field("S", "s"),
        field("p", "p", digits=2),
        field("Slope", "slope_ug_per_l_year", "ug/L/a", 2),
        field("95 % from", "slope_low_ug_per_l_year", "ug/L/a", 2),
        field("to", "slope_high_ug_per_l_year", "ug/L/a", 2),
        field("Verdict", "verdict"),
        RUN,
    ]
    none = "no interval has four rounds yet."
    rows = content.rows("trend")
    return table("Trends", columns, rows, hole_of=content.hole, none=none)


def _told(row: Row, which: str) -> str | None:
    value, limit = row[f"value{which}_ug_per_l"], row[f"limit{which}_ug_per_l"]
    if value is not None:
        return bare(value)
    return None if limit is None else f"< {bare(limit)}"


def _factor(log10: float | None) -> str | None:
    return None if log10 is None else bare(10.0**log10, 2)


def _figures(changes: Sequence[Row]) -> str:
    """One figure for each substance that was found at all."""
    by_name: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in changes:
        if row["value_before_ug_per_l"] is not None or row["value_ug_per_l"] is not None:
            by_name[f"{row['analyte']} in {row['medium']}"][str(row["interval"])].append(row)
    return "".join(_figure(name, lines) for name, lines in sorted(by_name.items()))


def _figure(name: str, lines: dict[str, list[Row]]) -> str:
    """A line for each interval: results on a log scale, joined in the order of the rounds."""
    highest = {n: max(_ends(rows)) for n, rows in lines.items()}
    kept = sorted(lines, key=lambda n: -highest[n])[:MOST_LINES]
    every = [v for n in kept for v in _ends(lines[n])]
    low, high = math.floor(min(every)), math.ceil(max(every) + 1e-9)
    high = max(high, low + 1)
    tall = TOP + LINE * len(kept) + 22
    drawn = "".join(_line(n, lines[n], k, low, high) for k, n in enumerate(kept))
    ticks = "".join(
        f'<path class="grid" d="M{_x(d, low, high):.1f} {TOP - 6}V{tall - 18:.0f}"/>'
        f'<text class="small" text-anchor="middle" x="{_x(d, low, high):.1f}" y="{TOP - 11}">'
        f"{bare(10.0**d)}</text>"
        for d in range(low, high + 1)
    )
    left_out = len(lines) - len(kept)
    more = f" {left_out} intervals with lower results are in the table alone." if left_out else ""
    return (
        f'<figure class="rounds"><svg viewBox="0 0 {RIGHT + 20:.0f} {tall:.0f}" role="img" '
        f'aria-label="{escaped(name)}: results round by round"><text class="small" x="4" '
        f'y="{TOP - 11}">{short(name)} [{shown_unit("ug/L")}]</text>{ticks}{drawn}</svg>'
        f"<figcaption>{escaped(name)}"
        ": each interval from its first round (open) to its last (filled); the band is what "
        "duplicates scatter about the result before the last; a mark to the left is a limit, "
        f"below which nothing was detected. Highest results first.{more}</figcaption></figure>"
    )


def _line(name: str, rows: Sequence[Row], place: int, low: int, high: int) -> str:
    """One interval: band of scatter, path and marks."""
    y = TOP + LINE * (place + 0.5)
    points = [_point(rows[0], "_before"), *(_point(row, "") for row in rows)]
    last = rows[-1]
    text = (
        f'<text class="small" text-anchor="end" x="{LEFT - 8}" y="{y + 4:.1f}">{short(name)}</text>'
    )
    before, scatter = _point(last, "_before")[0], last["scatter_log10"]
    if scatter is not None and before is not None:
        ends = (max(before - scatter, low), min(before + scatter, high))
        left, right = (_x(end, low, high) for end in ends)
        text += (
            f'<rect x="{left:.1f}" y="{y - 5:.1f}" width="{right - left:.1f}" height="10" '
            'fill="currentColor" fill-opacity="0.12"/>'
        )
    known = [_x(v, low, high) for v, _ in points if v is not None]
    path = "L".join(f"{x:.1f} {y:.1f}" for x in known)
    text += f'<path d="M{path}" fill="none" stroke="currentColor" stroke-width="1"/>'
    for k, (value, detected) in enumerate(points):
        if value is not None:
            text += _mark(_x(value, low, high), y, detected, filled=k == len(points) - 1)
    said = f"{name}: {last['verdict']} from {last['round_before']} to {last['round']}"
    return f"<g><title>{escaped(said)}</title>{text}</g>"


def _mark(x: float, y: float, detected: bool, *, filled: bool) -> str:
    shape = (
        f"M{x - 3.5:.1f} {y:.1f}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0z"
        if detected
        else f"M{x - 6:.1f} {y:.1f}l6-4v8z"
    )
    fill = "currentColor" if filled else "none"
    return f'<path d="{shape}" fill="{fill}" stroke="currentColor" stroke-width="1.2"/>'


def _point(row: Row, which: str) -> tuple[float | None, bool]:
    """Log10 of a value, or of its limit, and whether it was detected."""
    value, limit = row[f"value{which}_ug_per_l"], row[f"limit{which}_ug_per_l"]
    shown = value if value is not None else limit
    return (math.log10(shown) if shown else None), value is not None


def _ends(rows: Sequence[Row]) -> list[float]:
    return list(_every(rows)) or [0.0]


def _every(rows: Sequence[Row]) -> Iterator[float]:
    for row in rows:
        for which in ("_before", ""):
            value, _ = _point(row, which)
            if value is not None:
                yield value


def _x(log10: float, low: int, high: int) -> float:
    return LEFT + (RIGHT - LEFT) * (log10 - low) / (high - low)
