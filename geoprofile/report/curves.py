"""The curve of every test in the report: readings, fit, set-up, K and what spreads it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence

from geoprofile.drawing.people import few, now
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, number, part, words
from geoprofile.report.svg import ticks

WIDTH, HEIGHT = 250.0, 190.0
LEFT, TOP, RIGHT, BOTTOM = 44.0, 8.0, 18.0, 36.0
FOLD_FROM = 24  # tests; beyond, the curves are folded away on the screen
MOST = 300  # tests drawn: the page stays below 5 MB with a thousand
GRADES = ("rejected", "qualified", "accepted")  # what needs a look comes first where some are left
LEAST_HEAD = 1e-3  # [-] shown of a normalised head
LEAST_SHARE = 0.05  # of the variance, told of an input
UNDERDAMPED = -0.05  # [-] a head below this has swung through: then the axis is linear
Place = tuple[float, float]


def curves(content: Content) -> str:
    """All tests with a curve as small figures.

    Parameters
    ----------
    content : Content
        Tables test_curve, conductivity, conductivity_budget and test.

    Returns
    -------
    str
        HTML; "" without a curve.
    """
    points: dict[str, list[Row]] = defaultdict(list)
    for row in content.rows("test_curve"):
        points[str(row["test"])].append(row)
    best = {str(r["test"]): r for r in content.rows("conductivity") if r["preferred"]}
    told = {str(r["test"]): r for r in content.rows("test")}
    shares: dict[str, list[Row]] = defaultdict(list)
    for row in content.rows("conductivity_budget"):
        shares[str(row["test"])].append(row)
    names = [name for name in points if name in best]
    shown = set(sorted(names, key=lambda name: GRADES.index(str(best[name]["grade"])))[:MOST])
    figures = [
        _figure(content, best[name], told.get(name, {}), points[name], shares[name])
        for name in names
        if name in shown
    ]
    if not figures:
        return ""
    text = (
        "<p>Full dots were fitted, open dots were not; the line is the preferred method. Heads are "
        "normalised by the displacement at the start that was used. Shares are of the variance of "
        "log10 K.</p>"
    )
    grid = f'<div class="profiles curves">{"".join(figures)}</div>'
    if len(figures) >= FOLD_FROM:
        grid = f"<details><summary>All {len(figures)} curves</summary>{grid}</details>"
    if len(names) > MOST:
        text += (
            f"<p>{MOST} of {len(names)} curves are shown, rejected and qualified ones first; "
            "<code>geoprofile conductivity --figures</code> draws all.</p>"
        )
    return part("curves", "Curves of the tests", text + grid)


def _figure(
    content: Content, best: Row, test: Row, points: Sequence[Row], shares: Sequence[Row]
) -> str:
    name, place = str(best["test"]), content.hole(best)
    length = now().unit("m")
    where = f"{few(best['top_m'], 'm', 3)}-{few(best['bottom_m'], 'm', 3)} {length}"
    mark = "" if place is None else f' data-hole="{place}"'
    return (
        f'<figure class="profile curve"{mark}><figcaption><bdi>{escaped(name)}</bdi>: '
        f"{words(best['borehole'])}, {where}</figcaption>"
        f'<svg viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="Curve of test '
        f'{escaped(name)}">{"".join(_drawn(points))}</svg>'
        f'<p class="facts">{_value(best)}<br>{_set_up(best, test)}<br>{_budget(shares)}</p>'
        "</figure>"
    )


def _value(best: Row) -> str:
    """K with its interval, method and grade."""
    text = f"{words(best['method'])}, {words(best['grade'])}"
    if best["k_m_per_s"] is None:
        return text
    low, high = (number(best[end], 2, "m/s") for end in ("k_low_m_per_s", "k_high_m_per_s"))
    k = number(best["k_m_per_s"], 2, "m/s")
    return f"<strong>K {k} m/s</strong> (95 %: {low} to {high}), {text}"


def _set_up(best: Row, test: Row) -> str:
    """Kind, day, riser, displacement at the start, temperature, and who chose the method."""
    start = best["initial_displacement_m"]
    parts = (
        str(test.get("kind") or ""),
        str(test.get("started_at") or "")[:10],
        _told("riser", test.get("riser_diameter_mm"), "mm"),
        _told("H0", start, "m"),
        _told("", test.get("water_temperature_c"), "°C"),
        "method chosen by the user" if best["chosen_by"] == "user" else "",
    )
    return ", ".join(words(p) for p in parts if p)


def _told(name: str, value: float | None, unit: str) -> str:
    return "" if value is None else f"{name} {few(value, unit, 3)} {now().unit(unit)}".strip()


def _budget(shares: Sequence[Row]) -> str:
    """The largest contributions to the spread of K."""
    large = [r for r in shares if (r["share"] or 0.0) >= LEAST_SHARE]
    return "; ".join(f"{words(r['input'])} {100 * r['share']:.0f} %" for r in large[:4])


def _drawn(points: Sequence[Row]) -> Iterator[str]:
    if points[0]["flow_l_min"] is not None:
        yield from _steps(points)
    else:
        yield from _response(points)


def _steps(points: Sequence[Row]) -> Iterator[str]:
    """Net head against flow of each pressure step."""
    known = [r for r in points if r["net_head_m"] is not None]
    flow_end = 1.1 * max((r["flow_l_min"] for r in known), default=1.0) or 1.0
    head_end = 1.1 * max((r["net_head_m"] for r in known), default=1.0) or 1.0
    x, y = _scale(0.0, flow_end, across=True), _scale(0.0, head_end, across=False)
    yield from _axes(x, y, ticks(0.0, flow_end, 4), ticks(0.0, head_end, 4), "flow [L/min]")
    yield _upright("net head [m]")
    ordered = sorted(known, key=lambda r: r["flow_l_min"])
    yield _line([(x(r["flow_l_min"]), y(r["fitted_net_head_m"])) for r in ordered])
    yield from (_dot(x(r["flow_l_min"]), y(r["net_head_m"]), bool(r["used"])) for r in known)


def _response(points: Sequence[Row]) -> Iterator[str]:
    """Normalised head against time; its logarithm, but where the water swings."""
    heads = [r["normalised_head"] for r in points if r["normalised_head"] is not None]
    swings = bool(heads) and min(heads) < UNDERDAMPED
    end = max((r["elapsed_s"] or 0.0 for r in points), default=1.0) or 1.0
    x = _scale(0.0, end, across=True)
    if swings:
        low, high = min(-1.0, min(heads)), max(1.0, max(heads))
        y, marks = _scale(low, high, across=False), ticks(low, high, 4)
    else:
        y, marks = _logarithmic([h for h in heads if h > 0])
    yield from _axes(x, y, ticks(0.0, end, 4), marks, "time [s]")
    yield _upright("normalised head")
    shown = [r for r in points if swings or (r["fitted_normalised_head"] or 0.0) > LEAST_HEAD]
    yield _line(
        [
            (x(r["elapsed_s"]), y(r["fitted_normalised_head"]))
            for r in shown
            if r["fitted_normalised_head"] is not None
        ]
    )
    yield from (
        _dot(x(r["elapsed_s"]), y(r["normalised_head"]), bool(r["used"]))
        for r in points
        if r["normalised_head"] is not None and (swings or r["normalised_head"] > 0)
    )


def _logarithmic(heads: Sequence[float]) -> tuple[Callable[[float], float], list[float]]:
    """A scale down to the lowest head in whole decades, and its marks."""
    least = max(min(heads, default=0.1), LEAST_HEAD)
    low = math.floor(math.log10(least))
    inner = _scale(float(low), math.log10(max(2.0, *heads, 0.0)), across=False)
    marks = [10.0**k for k in range(low, 1)]
    return (lambda head: inner(max(math.log10(max(head, 1e-9)), low))), marks


def _scale(low: float, high: float, *, across: bool) -> Callable[[float], float]:
    """From values to pixels."""
    first, last = (LEFT, WIDTH - RIGHT) if across else (HEIGHT - BOTTOM, TOP)
    return lambda value: round(first + (value - low) / (high - low or 1.0) * (last - first), 1)


def _axes(
    x: Callable[[float], float],
    y: Callable[[float], float],
    along: Sequence[float],
    up: Sequence[float],
    title: str,
) -> Iterator[str]:
    yield f'<path class="axis" d="M{LEFT} {TOP}V{HEIGHT - BOTTOM}H{WIDTH - RIGHT}"/>'
    for value in along:
        yield (
            f'<text class="small" text-anchor="middle" x="{x(value)}" y="{HEIGHT - BOTTOM + 13}">'
            f"{value:g}</text>"
        )
    for value in up:
        yield (
            f'<path class="grid" d="M{LEFT} {y(value)}H{WIDTH - RIGHT}"/><text class="small" '
            f'text-anchor="end" x="{LEFT - 4}" y="{y(value) + 4}">{value:g}</text>'
        )
    yield (
        f'<text class="small" text-anchor="middle" x="{(LEFT + WIDTH - RIGHT) / 2}" '
        f'y="{HEIGHT - 6}">{title}</text>'
    )


def _upright(title: str) -> str:
    return f'<text class="small" x="{LEFT + 4}" y="{TOP + 9}">{title}</text>'


def _line(places: Sequence[Place]) -> str:
    if len(places) < 2:
        return ""
    return f'<path class="fit" d="M{"L".join(f"{a} {b}" for a, b in places)}"/>'


def _dot(x: float, y: float, used: bool) -> str:
    kind = "read" if used else "unread"
    return f'<circle class="{kind}" cx="{x}" cy="{y}" r="2"/>'
