"""Each borehole down its depth: what was met, and every interval with its value and spread."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

from geoprofile.drawing.people import few, now
from geoprofile.drawing.symbols import LOGGED, tidy, units_in
from geoprofile.errors import DataError
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import bare, escaped, short, words
from geoprofile.report.svg import ticks
from geoprofile.report.values import Value, unit_of, values_of
from geoprofile.schema.soil_gas import IN_GAS, PER_UG_PER_L, SOIL_GAS
from geoprofile.units import to_ug_per_l

WIDTH, HEIGHT = 250.0, 260.0
LEFT, TOP, BOTTOM, STRIP, RIGHT = 34.0, 14.0, 36.0, 18.0, 20.0
# the letters of a hatch as strokes in a tile of 8 pixels
HATCHES = {
    ".": "M2 2h.9M6 6h.9",
    "-": "M0 4h8",
    "|": "M4 0v8",
    "\\": "M0 0l8 8",
    "/": "M8 0l-8 8",
    "+": "M4 2v4M2 4h4",
    "x": "M2 2l4 4M6 2l-4 4",
    "o": "M4 2a2 2 0 1 0 .1 0z",
}
FOLD_FROM = 24  # boreholes; beyond, the profiles are folded away
MOST_ON_PAPER = 100  # boreholes; beyond, paper has the quantity that was chosen on the screen


def profiles(content: Content) -> str:
    """All boreholes as small figures."""
    holes = [r for r in content.rows("borehole") if r["depth_m"]]
    if not holes:
        return "<p>No boreholes yet.</p>"
    values = {q: values_of(content, q) for q in content.quantities}
    ends = {q: _ends(values[q].values(), criterion_of(content, q)) for q in content.quantities}
    inner = "".join(_figure(content, row, values, ends) for row in holes)
    grid = f'<div class="profiles">{inner}</div>'
    if len(holes) >= FOLD_FROM:
        grid = f"<details><summary>All {len(holes)} profiles</summary>{grid}</details>"
    judged = any(criterion_of(content, q) for q in content.quantities)
    told = "<p>The dashed upright line is the criterion of the user.</p>" if judged else ""
    return f"{_key(content)}{told}{grid}{_on_paper(content, holes, values, ends)}"


def _on_paper(
    content: Content,
    holes: Sequence[Row],
    values: dict[str, dict[str, Value]],
    ends: dict[str, tuple[float, float]],
) -> str:
    """The profiles of the quantities that the screen shows on request: paper has no buttons."""
    grids = []
    if len(holes) > MOST_ON_PAPER and content.quantities[1:]:
        return (
            '<p class="on-paper">Printed is the quantity that was chosen on the screen: with '
            f"{len(holes)} boreholes all of them would make the page too large.</p>"
        )
    for quantity in content.quantities[1:]:
        alone = content.only(quantity)
        inner = "".join(_figure(alone, row, values, ends, marked=False) for row in holes)
        grids.append(f'<h3>{words(quantity)}</h3><div class="profiles">{inner}</div>')
    return f'<div class="on-paper" aria-hidden="true">{"".join(grids)}</div>' if grids else ""


def _key(content: Content) -> str:
    """The patterns of the logged units, and what they mean, from the youngest to the oldest."""
    if not content.units:
        return ""
    used = [LOGGED[i] for i in range(min(len(content.units), len(LOGGED)))]
    patterns = "".join(
        f'<pattern id="logged-{i}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<rect width="8" height="8" fill="{look.colour}"/>'
        f'<path class="hatch" d="{_strokes(look.hatch)}"/></pattern>'
        for i, look in enumerate(used)
    )
    boxes = "".join(
        f'<li><svg class="box" viewBox="0 0 24 14" width="24" height="14" aria-hidden="true"><rect '
        f'class="logged" width="24" height="14" fill="url(#logged-{i % len(LOGGED)})"/></svg> '
        f"{words(unit)}</li>"
        for i, unit in enumerate(content.units)
    )
    return (
        f'<svg class="patterns" width="0" height="0" aria-hidden="true"><defs>{patterns}</defs>'
        f'</svg><p class="keys-title">Logged, from the youngest to the oldest:</p>'
        f'<ul class="keys">{boxes}</ul>'
    )


def _strokes(hatch: str) -> str:
    return "".join(HATCHES[letter] for letter in sorted(set(hatch)))


def criterion_of(content: Content, quantity: str) -> float | None:
    """What a substance is held against [unit of its values]; None for K and where none is told."""
    gas, name = quantity.endswith(IN_GAS), quantity.removesuffix(IN_GAS)
    for row in content.rows("criterion"):
        in_gas = row.get("medium") == SOIL_GAS
        if row["analyte"] == name and in_gas == gas and row["value"] is not None:
            try:
                told = to_ug_per_l(float(row["value"]), str(row["unit"]))
            except DataError:
                return None
            return PER_UG_PER_L * told if gas else told
    return None


def _ends(values: Iterable[Value], criterion: float | None = None) -> tuple[float, float]:
    """Whole decades that hold all values with their ends, and the criterion."""
    known = [
        x for v in values for x in (v.value, v.low, v.high, v.limit) if x is not None and x > 0
    ]
    known += [criterion] if criterion else []
    if not known:
        return 1.0, 10.0
    low, high = math.floor(math.log10(min(known))), math.ceil(math.log10(max(known)))
    return 10.0**low, 10.0 ** max(high, low + 1)


def _figure(
    content: Content,
    row: Row,
    values: dict[str, dict[str, Value]],
    ends: dict[str, tuple[float, float]],
    *,
    marked: bool = True,
) -> str:
    """One borehole; without marks nothing in it can be chosen."""
    name, place, depth = str(row["borehole"]), content.hole(row), float(row["depth_m"])
    down = (HEIGHT - TOP - BOTTOM) / depth
    panels = []
    for number_of, quantity in enumerate(content.quantities):
        mine = [v for v in values[quantity].values() if v.hole == place]
        judged = criterion_of(content, quantity)
        drawn = "".join(_panel(mine, quantity, ends[quantity], down, judged))
        off = "" if number_of == 0 else ' class="off"'
        of = f' data-quantity="{number_of}"' if marked else ""
        panels.append(f"<g{of}{off}>{drawn}</g>")
    inner = "".join((*_depths(depth, down), *_strip(content, name, down), *panels))
    mark = f' id="hole-{place}" data-hole="{place}"' if marked else ""
    return (
        f'<figure class="profile"{mark}><figcaption><bdi>'
        f"{escaped(name)}</bdi>, {few(depth, 'm', 3)} {now().unit('m')}</figcaption>"
        f'<svg viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="Profile of '
        f'{escaped(name)}">{inner}</svg></figure>'
    )


def _depths(depth: float, down: float) -> Iterator[str]:
    end = TOP + depth * down
    yield f'<path class="axis" d="M{LEFT} {TOP}V{end:.1f}H{WIDTH - RIGHT}"/>'
    per_m = now().value(1.0, "m")
    for d in ticks(0.0, depth * per_m, 5):
        y = TOP + d / per_m * down
        yield (
            f'<path class="axis" d="M{LEFT - 4} {y:.1f}h4"/><text class="small" text-anchor="end" '
            f'x="{LEFT - 6}" y="{y + 4:.1f}">{tidy(d)}</text>'
        )


def _strip(content: Content, name: str, down: float) -> Iterator[str]:
    """What was logged, with names on demand; a unit looks as on every other drawing."""
    units = content.units
    for row in content.rows("lithology"):
        if row["borehole"] != name or row["top_m"] is None or row["bottom_m"] is None:
            continue
        y, height = TOP + row["top_m"] * down, (row["bottom_m"] - row["top_m"]) * down
        look = units.index(str(row["unit"])) % len(LOGGED)
        yield (
            f'<rect class="logged" fill="url(#logged-{look})" x="{LEFT}" y="{y:.1f}" '
            f'width="{STRIP}" height="{max(height, 0.1):.1f}">'
            f"<title>{escaped(row['unit'] or '')}</title></rect>"
        )


def _panel(
    values: Sequence[Value],
    quantity: str,
    ends: tuple[float, float],
    down: float,
    criterion: float | None,
) -> Iterator[str]:
    low, high = (math.log10(e) for e in ends)
    first = LEFT + STRIP + 8

    def x(value: float) -> float:
        share = (math.log10(value) - low) / (high - low)
        return first + share * (WIDTH - RIGHT - first)

    bottom = HEIGHT - BOTTOM
    step = max(1, math.ceil((high - low) / 4))
    for k in range(round(low), round(high) + 1, step):
        yield (
            f'<path class="grid" d="M{x(10.0**k):.1f} {TOP}V{bottom}"/><text class="small" '
            f'text-anchor="middle" x="{x(10.0**k):.1f}" y="{bottom + 14:.1f}">{_decade(k)}</text>'
        )
    yield (
        f'<text class="small" text-anchor="middle" x="{(first + WIDTH - RIGHT) / 2:.1f}" '
        f'y="{HEIGHT - 5}">{short(quantity, 18)} [{units_in(unit_of(quantity))}]</text>'
    )
    if criterion:
        yield (
            f'<path class="criterion" d="M{x(criterion):.1f} {TOP}V{bottom}"><title>criterion '
            f"{bare(criterion)} {units_in(unit_of(quantity))}</title></path>"
        )
    for value in values:
        if value.top_m is not None and value.bottom_m is not None:
            yield _mark(value, x, first, down)


def _decade(power: int) -> str:
    if -3 <= power <= 4:
        return f"{10.0**power:g}"
    return f"1e{power}".replace("-", "−")


def _mark(value: Value, x: Callable[[float], float], first: float, down: float) -> str:
    """A bar along the interval at its value; an open bracket below a limit; a cross if rejected."""
    top, bottom = TOP + (value.top_m or 0) * down, TOP + (value.bottom_m or 0) * down
    middle = (top + bottom) / 2
    title = f"<title>{escaped(value.interval)}: {escaped(value.words)}</title>"
    if value.value is not None and value.value > 0:
        at = x(value.value)
        spread = ""
        if value.low and value.high:
            spread = f"M{x(value.low):.1f} {middle:.1f}H{x(value.high):.1f}"
        return (
            f'<path class="value" d="M{at:.1f} {top:.1f}V{bottom:.1f}"/>'
            f'<path class="spread" d="{spread}M{at:.1f} {middle:.1f}h0">{title}</path>'
        )
    if value.limit:
        at = x(value.limit)
        return (
            f'<path class="limit" d="M{at:.1f} {top:.1f}V{bottom:.1f}M{at:.1f} {middle:.1f}'
            f'H{first:.1f}">{title}</path>'
        )
    return f'<path class="nothing" d="M{first + 2} {middle - 4:.1f}l8 8m0-8l-8 8">{title}</path>'
