"""The site map of the report: areas, plume, sections and boreholes at their coordinates."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain

import shapely

from geoprofile.drawing.levels import nice_step
from geoprofile.drawing.marks import ANY_DEPTH
from geoprofile.drawing.names import far_end, near_end
from geoprofile.drawing.people import now
from geoprofile.drawing.symbols import (
    AREA_ORDER,
    PROBABILITY_LINES,
    area_kind,
    exceedance_words,
    proposal_name,
    units_in,
)
from geoprofile.report.content import Content, Row
from geoprofile.report.labels import beside, left_out, placed
from geoprofile.report.marks_style import AREA_CLASSES, area_key
from geoprofile.report.markup import bare, escaped, number, short, words
from geoprofile.report.svg import View, inner_edge

WIDTH, MOST_HEIGHT, LEAST_HEIGHT, MARGIN = 720.0, 640.0, 260.0, 26.0
SPREAD = 0.06  # margin round the boreholes as a share of the extent
LABELS_UP_TO = 60  # boreholes; beyond, names are shown for the chosen one


def plan(content: Content) -> str:
    """The map as a figure; a sentence where there are no boreholes."""
    holes = [r for r in content.rows("borehole") if r["x"] is not None and r["y"] is not None]
    if not holes:
        return "<p>No boreholes yet.</p>"
    return map_figure(
        content,
        lambda view: _plumes(content, view),
        lambda view: chain(
            _sections(content, view), _flow(content, view), _proposals(content, view)
        ),
        label=f"Site map with {len(holes)} boreholes",
        caption=_caption(content),
    )


def map_figure(
    content: Content,
    below: Callable[[View], Iterable[str]],
    above: Callable[[View], Iterable[str]],
    *,
    label: str,
    caption: str,
) -> str:
    """A map of areas and boreholes, with marks on the site and marks on all but the boreholes."""
    holes = [r for r in content.rows("borehole") if r["x"] is not None and r["y"] is not None]
    view = _view(content, holes)
    inner = "".join(
        (
            *_areas(content, view, ("site",)),  # it is filled: nothing may lie below it
            *below(view),
            *_areas(content, view, AREA_ORDER[1:]),
            *above(view),
            *_holes(content, holes, view),
            _scale_bar(view),
            _north(view),
        )
    )
    return (
        f'<figure class="plan"><div class="pan"><svg role="group" '
        f'viewBox="0 0 {view.width:.0f} {view.height:.0f}" '
        f'aria-label="{escaped(label)}">{inner}</svg></div>'
        f"<figcaption>{caption}{left_out(inner)}</figcaption></figure>"
    )


def _view(content: Content, holes: Sequence[Row]) -> View:
    """North is up, both directions have one scale."""
    shapes = [r["geometry"] for t in ("area", "section_trace") for r in content.rows(t)]
    boxes = [s.bounds for s in shapes if s is not None and not s.is_empty]
    boxes += [(r["x"], r["y"], r["x"], r["y"]) for r in holes]
    west, south = min(b[0] for b in boxes), min(b[1] for b in boxes)
    east, north = max(b[2] for b in boxes), max(b[3] for b in boxes)
    pad = SPREAD * max(east - west, north - south, 10.0)
    west, south, east, north = west - pad, south - pad, east + pad, north + pad
    scale = min((WIDTH - 2 * MARGIN) / (east - west), (MOST_HEIGHT - 2 * MARGIN) / (north - south))
    height = max((north - south) * scale + 2 * MARGIN, LEAST_HEIGHT)
    spare = (WIDTH - (east - west) * scale) / 2
    return View(west, north, scale, scale, WIDTH, height, (spare, MARGIN))


def _areas(content: Content, view: View, kinds: Sequence[str]) -> Iterator[str]:
    """Areas of some kinds, in that order whatever the order of the table."""
    rows = [r for kind in kinds for r in content.rows("area") if area_kind(r["kind"]) == kind]
    for row in rows:
        kind = AREA_CLASSES[area_kind(row["kind"])]
        title = f"{row['name'] or 'area'} ({row['kind'] or 'area'})"
        yield (
            f'<path class="area {kind}" d="{view.path(row["geometry"])}">'
            f"<title>{escaped(title)}</title></path>"
        )


def _plumes(content: Content, view: View) -> Iterator[str]:
    """Extents at any depth, the least likely first so that the likelier lie on top."""
    rounds = content.latest_rounds
    yards = [r["geometry"] for r in content.rows("area") if area_kind(r["kind"]) == "site"]
    yard = shapely.union_all([s for s in yards if s is not None])
    for place, quantity in enumerate(content.quantities):
        rows = [
            r
            for r in content.rows("plume_extent")
            if r["analyte"] == quantity
            and r["surface"] == ANY_DEPTH
            and r["round"] == rounds.get(quantity, r["round"])
        ]
        if not rows:
            continue
        yield f'<g data-quantity="{place}"{_off(place)}>'
        for row in sorted(rows, key=lambda r: r["probability"] or 0.0):
            chance = row["probability"] or 0.0
            line = PROBABILITY_LINES.get(chance, PROBABILITY_LINES[0.1])
            yield (
                f'<path class="plume p{round(100 * chance)}" d="{view.path(row["geometry"])}">'
                f"<title>{escaped(quantity)}: {exceedance_words(chance)} at {ANY_DEPTH}</title>"
                f'</path><path class="edge" {line.svg} '
                f'd="{view.path(inner_edge(row["geometry"], yard))}"/>'
            )
        yield "</g>"


def _off(place: int) -> str:
    return "" if place == 0 else ' class="off"'


def _sections(content: Content, view: View) -> Iterator[str]:
    rows = content.rows("section_trace") or content.rows("section_line")
    for row in rows:
        name, shape = row.get("section") or row.get("name"), row["geometry"]
        if shape is None or shape.is_empty:
            continue
        yield f'<path class="trace" d="{view.path(shape)}"/>'
        parts = getattr(shape, "geoms", [shape])
        ends = (
            (near_end(str(name)), parts[0].coords[0]),
            (far_end(str(name)), parts[-1].coords[-1]),
        )
        for text, (x, y, *_) in ends:
            yield (
                f'<text class="trace-name" text-anchor="middle" x="{view.x(x)}" '
                f'y="{view.y(y) - 6}">{short(text)}</text>'
            )


def _flow(content: Content, view: View) -> Iterator[str]:
    """An arrow of fixed length at the lower left: direction, not speed."""
    rows = [r for r in content.rows("flow") if r["azimuth_deg"] is not None]
    if not rows:
        return
    azimuth = math.radians(rows[0]["azimuth_deg"])
    x, y = 58.0, view.height - 78.0
    dx, dy = 26 * math.sin(azimuth), -26 * math.cos(azimuth)
    side_x, side_y = -dy * 0.25, dx * 0.25
    yield (
        f'<path class="flow" d="M{x - dx:.1f} {y - dy:.1f}L{x + dx:.1f} {y + dy:.1f}'
        f"M{x + dx * 0.45 + side_x:.1f} {y + dy * 0.45 + side_y:.1f}L{x + dx:.1f} {y + dy:.1f}"
        f'L{x + dx * 0.45 - side_x:.1f} {y + dy * 0.45 - side_y:.1f}"/>'
        f'<text class="small" x="{x - 30:.1f}" y="{view.height - 38:.1f}">groundwater flow</text>'
    )


def _proposals(content: Content, view: View) -> Iterator[str]:
    for row in content.rows("next_borehole"):
        shape = row["geometry"]
        if shape is None or shape.is_empty:
            continue
        x, y = view.x(shape.x), view.y(shape.y)
        name = proposal_name("next_borehole", row["rank"])
        yield (
            f'<path class="proposed" d="M{x} {y - 7}l7 7-7 7-7-7z"><title>Proposed borehole '
            f'{name}: {escaped(row["reason"] or "")}</title></path><text class="small" x="{x + 9}" '
            f'y="{y - 3}">{name}</text>'
        )


def _holes(content: Content, holes: Sequence[Row], view: View) -> Iterator[str]:
    dots = [(view.x(row["x"]), view.y(row["y"])) for row in holes]
    names = [content.names[str(row["borehole"])] for row in holes]
    wanted = [beside(*dot) if len(holes) <= LABELS_UP_TO else [] for dot in dots]
    found = placed(names, wanted, view.width, dots)
    yield "<g>"
    for row, name, (x, y), at in zip(holes, names, dots, found, strict=True):
        quiet = " quiet" if at is None else ""
        left, base, anchor = at or beside(x, y)[0]
        full, place = row["borehole"], content.hole(row)
        yield (
            f'<g class="hole" data-hole="{place}" tabindex="0" role="button" aria-pressed="false" '
            f'aria-label="Borehole {short(full)}" data-name="{escaped(full)}">'
            f'<circle class="reach" cx="{x}" cy="{y}" r="12"/>'
            f'<circle class="dot" cx="{x}" cy="{y}" r="5"/><text class="name{quiet}" '
            f'text-anchor="{anchor}" x="{left}" y="{base}">{escaped(name)}</text></g>'
        )
    yield "</g>"


def _scale_bar(view: View) -> str:
    per_m = now().value(1.0, "m")
    shown = nice_step(140.0 / view.px_per_m_x * per_m, 1) / 2 or 1.0
    x, y, length = 24.0, view.height - 16.0, shown / per_m * view.px_per_m_x
    words = f"{bare(shown)} {now().unit('m')}"
    return (
        f'<path class="bar" d="M{x} {y - 5}v5h{length:.1f}v-5"/>'
        f'<text class="small" x="{x + length + 6:.1f}" y="{y:.1f}">{words}</text>'
    )


def _north(view: View) -> str:
    x = view.width - 26.0
    return (
        f'<path class="north" d="M{x} 14l7 22-7-5-7 5z"/>'
        f'<text class="small" x="{x - 4}" y="50">N</text>'
    )


def _caption(content: Content) -> str:
    keys = ['<span class="key dot"></span> borehole']
    kinds = {r["kind"] for r in content.rows("area")}
    keys += [f"{area_key(k)} {k} area" for k in AREA_ORDER if k in kinds]
    if content.rows("next_borehole"):
        keys.append('<span class="key proposed"></span> proposed borehole, numbered as in its list')
    return (
        f"{_shown(content)}{' · '.join(keys)}. {escaped(content.site.crs)}. <span "
        'class="screen">Choose a borehole to find it in the sections, profiles and tables. </span>'
        "Locate buried services before any drilling."
    )


def _shown(content: Content) -> str:
    """What the edges are of: substance, criterion with its basis, round and days of sampling."""
    return "".join(
        f'<span data-quantity="{place}"{_off(place)}>{_subject(content, quantity)}'
        f"{_plume_keys(content, quantity)}</span>"
        for place, quantity in enumerate(content.quantities)
    )


def _plume_keys(content: Content, quantity: str) -> str:
    """What the edges and tints mean, where there are any."""
    if not _has_extent(content, quantity):
        return ""
    keys = (
        f'<span class="key plume p{100 * p:.0f}"></span><svg class="inline line" '
        f'viewBox="0 0 36 12" width="36" height="12" aria-hidden="true"><path {line.svg} '
        f'd="M0 6h36"/></svg> {exceedance_words(p)} at {ANY_DEPTH} · '
        for p, line in PROBABILITY_LINES.items()
    )
    return "".join(keys)


def _has_extent(content: Content, quantity: str) -> bool:
    return any(r["analyte"] == quantity for r in content.rows("plume_extent"))


def _subject(content: Content, quantity: str) -> str:
    rows = [
        r
        for r in content.rows("criterion")
        if r["analyte"] == quantity and r.get("medium") != "soil gas"
    ]
    if not rows:
        return ""
    row = rows[0]
    days = sorted(
        str(r["sampled_at"])[:10]
        for r in content.latest
        if r["analyte"] == quantity and r["sampled_at"]
    )
    told = [
        f"criterion {number(row['value'])} {words(units_in(str(row['unit'])))}",
        f"basis: {words(row['basis'])}" if row["basis"] else "its basis is not stated",
        f"round {words(content.latest_rounds.get(quantity))}",
        f"sampled {days[0]} to {days[-1]}" if days else "",
    ]
    where = f" at {ANY_DEPTH}" if _has_extent(content, quantity) else ""
    return f"<strong>{words(quantity)}{where}</strong>, {', '.join(t for t in told if t)}. "
