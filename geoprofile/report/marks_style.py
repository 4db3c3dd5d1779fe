"""The marks of the report as a style sheet, from those of every other drawing."""

from __future__ import annotations

from geoprofile.drawing import marks
from geoprofile.drawing.marks import Dashed
from geoprofile.drawing.symbols import INK, PAPER, PLUME, PROPOSED, QUIET

AREA_CLASSES = {"site": "site", "source": "source", "no drilling": "shut"}
LINES = {
    "ground": marks.GROUND,
    "unit": marks.TOP_OF_UNIT,
    "water": marks.WATER_LEVEL,
    "flow": marks.FLOW,
    "trace": marks.SECTION,
    "criterion": marks.CRITERION,
}
UNDERLAID = tuple(name for name, mark in LINES.items() if mark.underlaid)
MOST_COLUMNS = 40  # of a table of the report
PATTERNS = (
    '<svg class="patterns" width="0" height="0" aria-hidden="true"><defs><pattern id="crossed" '
    'width="8" height="8" patternUnits="userSpaceOnUse"><path fill="none" stroke="{colour}" '
    'd="M0 0l8 8M8 0l-8 8"/></pattern><pattern id="rings" width="9" height="9" '
    'patternUnits="userSpaceOnUse"><circle fill="none" stroke="{quiet}" stroke-width=".8" '
    'cx="4.5" cy="4.5" r="2.6"/></pattern></defs></svg>'
)


def marks_style() -> str:
    """Rules for areas, lines of ground and water, plumes and proposals."""
    areas = (
        f".area.{AREA_CLASSES[kind]}{{fill:{_fill(kind)};{_stroke(look.edge)}}}"
        for kind, look in marks.AREAS.items()
    )
    lines = [f".{name}{{fill:none;{_stroke(mark)}}}" for name, mark in LINES.items()]
    lines += [f".under-{name}{{fill:none;{_stroke(LINES[name].under)}}}" for name in UNDERLAID]
    return "".join(
        (
            *areas,
            *lines,
            f".plume{{fill:{PLUME.at(0.7)}}}",
            f".key.plume{{background:{PLUME.at(0.7)}}}",
            ".assumed{fill:url(#rings);pointer-events:none}",  # what lies below tells its class
            f".proposed{{fill:{PROPOSED};stroke:{INK};stroke-width:1.4}}",
            f".key.proposed{{background:{PROPOSED};border-color:{INK}}}",
        )
    )


def spared_style() -> str:
    """Rules for columns that paper says once, by their place in the table.

    A class on the table costs a few letters; one on every cell of a large site's tables costs
    a quarter of a megabyte.
    """
    hidden = ",".join(
        f".spare{place} :is(th,td):nth-child({place})" for place in range(1, MOST_COLUMNS + 1)
    )
    return f"@media print{{{hidden}{{display:none}}}}"


def patterns() -> str:
    """The fills of an area where nobody may drill, and of ground whose shape is assumed."""
    return PATTERNS.format(colour=marks.AREAS["no drilling"].edge.colour, quiet=QUIET)


def area_key(kind: str) -> str:
    """An area of that kind in the caption of a map."""
    return (
        '<svg class="box" viewBox="0 0 24 14" width="24" height="14" aria-hidden="true"><rect '
        f'class="area {AREA_CLASSES[kind]}" x="1" y="1" width="22" height="12"/></svg>'
    )


def assumed_key() -> str:
    """Ground of assumed shape in the caption of a section."""
    return (
        '<svg class="box" viewBox="0 0 24 14" width="24" height="14" aria-hidden="true"><rect '
        f'class="assumed" width="24" height="14"/></svg> {marks.ASSUMED_WORDS}'
    )


def _fill(kind: str) -> str:
    """A site area is paper, so that the ground beyond it is told apart."""
    if marks.AREAS[kind].crossed:
        return "url(#crossed)"
    return PAPER if kind == "site" else "none"


def _stroke(mark: Dashed) -> str:
    line = mark.line
    dashes = " ".join(f"{d * line.px:.3g}" for d in line.dashes) or "none"
    return f"stroke:{line.colour};stroke-width:{line.px:g};stroke-dasharray:{dashes}"
