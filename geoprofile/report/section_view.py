"""The vertical sections of the report: bands, holes, intervals and surfaces from the tables."""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from geoprofile.drawing.levels import nice_step
from geoprofile.drawing.people import few, now, told, translated
from geoprofile.drawing.symbols import PROBABILITY_LINES, exceedance_words, tidy
from geoprofile.report.content import Content, K, Row
from geoprofile.report.labels import above, left_out, placed
from geoprofile.report.marks_style import UNDERLAID, assumed_key
from geoprofile.report.markup import escaped, short
from geoprofile.report.svg import Colours, View, inner_edge, ticks
from geoprofile.report.values import Value, scale_of, unit_of, values_of

WIDTH, INNER_HEIGHT = 960.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 54.0, 14.0, 34.0, 40.0
HALF_BAR = 4.0  # half the width of an interval's bar [px]
SURFACES = {"ground": "ground", "water level": "water"}  # class of the line


def sections(content: Content) -> str:
    """All sections as figures; a sentence where there are none."""
    traces = content.rows("section_trace")
    if not traces:
        return (
            "<p>No sections yet: draw lines in the table <code>section_line</code>, "
            "then run again.</p>"
        )
    scales = {q: scale_of(content, q) for q in content.quantities}
    return "".join(_figure(content, trace, scales) for trace in traces[: content.most_sections])


def _figure(content: Content, trace: Row, scales: dict[str, Colours]) -> str:
    name, length = str(trace["section"]), trace["length_m"] or 1.0
    start = trace["sheet_start_m"] or 0.0
    view, exaggeration = _view(content, name, start, length)
    layers = "".join(
        f'<g data-quantity="{place}"{"" if place == 0 else " class=off"}>'
        f"{''.join(_field(content, name, quantity, view, scales[quantity]))}</g>"
        for place, quantity in enumerate(content.quantities)
    )
    inner = "".join(
        (
            layers,
            *_surfaces(content, name, view),
            *_holes(content, name, view, scales),
            *_axes(view, start, length),
        )
    )
    band = trace["band_width_m"]
    length_unit = now().unit("m")
    near = f" Boreholes within {few(band, 'm', 3)} {length_unit} are projected." if band else ""
    near += "".join(f" {words}." for words in _notes(content, name))
    keys = "".join(
        f'<span data-quantity="{place}"{"" if place == 0 else " class=off"}>'
        f"{ramp(quantity, scales[quantity])}{_assumed_key(content, name, quantity)}</span>"
        for place, quantity in enumerate(content.quantities)
    )
    return (
        f'<figure class="cut"><div class="pan"><svg role="group" '
        f'viewBox="0 0 {view.width:.0f} {view.height:.0f}" '
        f'aria-label="Section {escaped(name)}">{inner}</svg></div><figcaption><strong>Section '
        f"<bdi>{escaped(name)}</bdi></strong>, vertical scale {exaggeration:.3g} times the "
        f"horizontal.{near} {keys} Pale parts are poorly supported. What lies between boreholes "
        f"was not measured.{left_out(inner)}</figcaption></figure>"
    )


def _view(content: Content, name: str, start: float, length: float) -> tuple[View, float]:
    """The window of a section and its vertical exaggeration."""
    shapes = [
        r["geometry"]
        for t in ("section_hole", "section_surface", "section_band")
        for r in content.rows(t)
        if r["section"] == name and r["geometry"] is not None and not r["geometry"].is_empty
    ]
    low = min((s.bounds[1] for s in shapes), default=-10.0)
    high = max((s.bounds[3] for s in shapes), default=0.0)
    span = max(high - low, 1.0) * 1.06
    across = (WIDTH - LEFT - RIGHT) / length
    upright = INNER_HEIGHT / span
    top = high + 0.03 * span
    height = INNER_HEIGHT + TOP + BOTTOM
    return View(start, top, across, upright, WIDTH, height, (LEFT, TOP)), upright / across


def _field(content: Content, name: str, quantity: str, view: View, scale: Colours) -> Iterator[str]:
    """Bands of the median, rings where their shape is assumed, and the edges of the plume."""
    rounds = content.latest_rounds
    bands = []
    for row in content.rows("section_band"):
        if (row["section"], row["quantity"], row["statistic"]) != (name, quantity, "median"):
            continue
        if quantity != K and row["round"] != rounds.get(quantity):
            continue
        bands.append(row)
        path = view.path(row["geometry"])
        if path:
            pale = " pale" if row["certainty"] == "uncertain" else ""
            yield (
                f'<path class="band{pale}" fill="{scale.of_band(row)}" d="{path}">'
                f"<title>{escaped(row['label'] or '')}</title></path>"
            )
    for row in _assumed(content, name, quantity):
        yield f'<path class="band assumed" d="{view.path(row["geometry"])}"/>'
    mapped = shapely.union_all([r["geometry"] for r in bands])
    for row in content.rows("section_plume"):
        if row["section"] == name and row["analyte"] == quantity:
            if row["round"] != rounds.get(quantity):
                continue
            chance = row["probability"] or 0.0
            line = PROBABILITY_LINES.get(chance, PROBABILITY_LINES[0.1])
            yield (
                f'<path class="edge e{round(100 * chance)}" {line.svg} '
                f'd="{view.path(inner_edge(row["geometry"], mapped))}">'
                f"<title>{exceedance_words(chance)}</title></path>"
            )


def _assumed(content: Content, name: str, quantity: str) -> list[Row]:
    """Where the data do not hold the shape of what is drawn."""
    return [
        row
        for row in content.rows("section_assumed")
        if (row["section"], row["quantity"]) == (name, quantity)
        and (quantity == K or row["round"] == content.latest_rounds.get(quantity))
    ]


def _assumed_key(content: Content, name: str, quantity: str) -> str:
    return f" {assumed_key()}." if _assumed(content, name, quantity) else ""


def _notes(content: Content, name: str) -> Iterator[str]:
    """What the reader must know about where the line lies, such as intervals too far from it."""
    for row in content.rows("finding"):
        if (row["source_table"], row["row_key"]) == ("section_line", name):
            what = str(row["what"])
            yield escaped(translated(what[:1].upper() + what[1:]))


def _surfaces(content: Content, name: str, view: View) -> Iterator[str]:
    for row in content.rows("section_surface"):
        if row["section"] == name:
            kind = SURFACES.get(row["surface"] or "", "unit")
            words = f"{row['surface'] or ''} {row['hydro_unit'] or ''}".strip()
            path = view.path(row["geometry"])
            under = f'<path class="under-{kind}" d="{path}"/>' if kind in UNDERLAID else ""
            yield (f'{under}<path class="{kind}" d="{path}"><title>{escaped(words)}</title></path>')


def _holes(content: Content, name: str, view: View, scales: dict[str, Colours]) -> Iterator[str]:
    bars = _bars(content, name, view, scales)
    holes = [
        row
        for row in content.rows("section_hole")
        if row["section"] == name and row["geometry"] is not None and not row["geometry"].is_empty
    ]
    tops = [(view.x(r["geometry"].coords[0][0]), view.y(r["geometry"].coords[0][1])) for r in holes]
    names = [content.names.get(str(r["borehole"]), str(r["borehole"])) for r in holes]
    found = placed(names, [above(*top) for top in tops], view.width)
    for row, written, (x, y), at in zip(holes, names, tops, found, strict=True):
        shape, place, hole = row["geometry"], content.hole(row), str(row["borehole"])
        quiet = " quiet" if at is None else ""
        left, base, anchor = at or above(x, y)[0]
        mark = "" if place is None else f' data-hole="{place}"'
        yield (
            f'<g class="hole"{mark} tabindex="0" role="button" aria-pressed="false" '
            f'aria-label="Borehole {short(hole)}"><path class="shaft" d="{view.path(shape)}"/>'
            f"{bars.get(hole, '')}"
            f'<text class="name{quiet}" x="{left}" y="{base}" text-anchor="{anchor}">'
            f"{escaped(written)}</text>"
            f"<title>{escaped(hole)}, projected over up to "
            f"{told(row['projection_distance_m'] or 0.0, 'm', 1)}</title></g>"
        )


def _bars(content: Content, name: str, view: View, scales: dict[str, Colours]) -> dict[str, str]:
    """The bars of the intervals by borehole, one for each quantity."""
    places: dict[str, Row] = {}
    for row in content.rows("section_interval"):
        if row["section"] == name and row["geometry"] is not None and not row["geometry"].is_empty:
            places.setdefault(str(row["interval"]), row)
    found: dict[str, str] = {}
    for place, quantity in enumerate(content.quantities):
        values = values_of(content, quantity)
        for interval, row in places.items():
            if interval in values:
                bar = _bar(row, values[interval], view, scales[quantity])
                group = f'<g data-quantity="{place}"{"" if place == 0 else " class=off"}>{bar}</g>'
                hole = str(row["borehole"])
                found[hole] = found.get(hole, "") + group
    return found


def _bar(row: Row, value: Value, view: View, scale: Colours) -> str:
    coords = list(row["geometry"].coords)
    (x0, y0), (x1, y1) = ((view.x(c[0]), view.y(c[1])) for c in (coords[0], coords[-1]))
    kind = "bar-below" if value.value is None else "bar-value"
    return (
        f'<path class="{kind}" fill="{scale.at(value.value)}" d="M{x0 - HALF_BAR:.1f} {y0}'
        f'L{x0 + HALF_BAR:.1f} {y0}L{x1 + HALF_BAR:.1f} {y1}L{x1 - HALF_BAR:.1f} {y1}z">'
        f"<title>{escaped(row['interval'])}: {escaped(value.words)}</title></path>"
    )


def _axes(view: View, start: float, length: float) -> Iterator[str]:
    bottom = TOP + INNER_HEIGHT
    low = view.high - INNER_HEIGHT / view.px_per_m_y
    yield f'<path class="axis" d="M{LEFT} {TOP}V{bottom}H{WIDTH - RIGHT}"/>'
    per_m, unit = now().value(1.0, "m"), now().unit("m")
    for shown in ticks(low * per_m, view.high * per_m, 6):
        z = shown / per_m
        yield (
            f'<path class="axis" d="M{LEFT - 4} {view.y(z)}h4"/><text class="small" '
            f'text-anchor="end" x="{LEFT - 7}" y="{view.y(z) + 4:.1f}">{tidy(shown)}</text>'
        )
    step = nice_step(length * per_m, 8)
    for k in range(int(length * per_m / step) + 1):
        x = view.x(start + k * step / per_m)
        yield (
            f'<path class="axis" d="M{x} {bottom}v4"/><text class="small" text-anchor="middle" '
            f'x="{x}" y="{bottom + 17:.1f}">{tidy(k * step)}</text>'
        )
    yield (
        f'<text class="small" x="{LEFT}" y="{bottom + 34:.1f}">distance along the section [{unit}]'
        f'</text><text class="small" x="4" y="14">elevation [{unit}]</text>'
    )


def ramp(quantity: str, scale: Colours, white: str = "white bar") -> str:
    """Each class as a box with the words that every legend has for it."""
    classes = "".join(
        f'<span class="class"><svg class="inline" viewBox="0 0 12 12" width="12" height="12" '
        f'aria-hidden="true"><rect class="logged" width="12" height="12" fill="{shade}"/></svg> '
        f"{escaped(text)}</span> "
        for shade, text in scale.classes(unit_of(quantity))
    )
    return (
        f'<span class="ramp"><bdi>{escaped(quantity)}</bdi>: {classes}· {white}: '
        "not detected or rejected.</span>"
    )
