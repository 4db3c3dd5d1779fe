"""Cross-validation in the report: each interval predicted without its borehole."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from geoprofile.drawing.symbols import shown_unit
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, short, words

SIZE, LEFT, TOP, SPAN = 260.0, 46.0, 8.0, 204.0
MOST_DECADES = 6  # with a mark on each


def predicted(content: Content) -> str:
    """Predicted against measured values, a figure for each quantity and round.

    Parameters
    ----------
    content : Content
        Table held_out.

    Returns
    -------
    str
        HTML; "" where nothing was held out.
    """
    groups: dict[tuple[str, str | None], list[Row]] = {}
    for row in content.rows("held_out"):
        groups.setdefault((str(row["quantity"]), row["round"]), []).append(row)
    figures = "".join(_figure(key, rows) for key, rows in groups.items())
    return f'<div class="profiles scatter">{figures}</div>' if figures else ""


def _figure(key: tuple[str, str | None], rows: Sequence[Row]) -> str:
    quantity, round_name = key
    known = [v for r in rows for v in (r["measured"], r["limit"], r["predicted_median"]) if v]
    if not known:
        return ""
    low, high = math.floor(math.log10(min(known))), math.ceil(math.log10(max(known)))
    high = max(high, low + 1)

    def across(value: float) -> float:
        share = (math.log10(value) - low) / (high - low)
        return round(LEFT + SPAN * min(max(share, 0.0), 1.0), 1)

    def up(value: float) -> float:
        return round(TOP + SPAN - (across(value) - LEFT), 1)

    inner = "".join(
        (*_frame(low, high, across, up, str(rows[0]["unit"])), *_marks(rows, across, up))
    )
    inside, outside = _counts(rows)
    below = sum(r["measured"] is None for r in rows)
    told = f"{inside} of {inside + outside} values inside their 80 % interval"
    return (
        f'<figure class="profile"><figcaption>{words(quantity)}'
        f"{'' if round_name is None else ' (' + words(round_name) + ')'}</figcaption>"
        f'<svg viewBox="0 0 {SIZE:.0f} {SIZE:.0f}" role="img" aria-label="{escaped(quantity)}: '
        f'predicted against measured">{inner}</svg><p class="facts">{told}'
        f"{f'; {below} not detected, drawn as arrows at their limit' if below else ''}.</p>"
        "</figure>"
    )


def _frame(
    low: int,
    high: int,
    across: Callable[[float], float],
    up: Callable[[float], float],
    unit: str,
) -> Iterator[str]:
    step = max(1, math.ceil((high - low) / MOST_DECADES))
    for k in range(low, high + 1, step):
        x, y = across(10.0**k), up(10.0**k)
        yield (
            f'<path class="grid" d="M{x} {TOP}v{SPAN}M{LEFT} {y}h{SPAN}"/><text class="small" '
            f'text-anchor="middle" x="{x}" y="{TOP + SPAN + 14}">{_decade(k)}</text><text '
            f'class="small" text-anchor="end" x="{LEFT - 4}" y="{y + 4}">{_decade(k)}</text>'
        )
    yield f'<path class="even" d="M{LEFT} {TOP + SPAN}L{LEFT + SPAN} {TOP}"/>'
    yield (
        f'<text class="small" text-anchor="middle" x="{LEFT + SPAN / 2}" y="{TOP + SPAN + 32}">'
        f"measured [{short(shown_unit(unit))}]; predicted, upwards</text>"
    )


def _decade(power: int) -> str:
    return f"{10.0**power:g}" if -3 <= power <= 4 else f"1e{power}".replace("-", "−")


def _marks(
    rows: Sequence[Row], across: Callable[[float], float], up: Callable[[float], float]
) -> Iterator[str]:
    """A dot with its 80 % interval, filled where the interval holds the value."""
    for row in rows:
        at, middle = row["measured"] or row["limit"], row["predicted_median"]
        if not at or not middle:
            continue
        x, y = across(at), up(middle)
        title = f"<title>{escaped(row['interval'])}</title>"
        if row["measured"] is None:
            yield f'<path class="mark" d="M{x} {y - 3}l-6 3 6 3z">{title}</path>'
            continue
        ends = f"{up(row['predicted_low'])}V{up(row['predicted_high'])}"
        yield f'<path class="faint" d="M{x} {ends}"/>'
        kind = "read" if _holds(row) else "outside"
        yield f'<circle class="{kind}" cx="{x}" cy="{y}" r="2.6">{title}</circle>'


def _holds(row: Row) -> bool:
    low, high = row["predicted_low"], row["predicted_high"]
    return bool(low is not None and high is not None and low <= row["measured"] <= high)


def _counts(rows: Sequence[Row]) -> tuple[int, int]:
    measured = [r for r in rows if r["measured"] is not None]
    inside = sum(_holds(r) for r in measured)
    return inside, len(measured) - inside
