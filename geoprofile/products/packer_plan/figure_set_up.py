"""The sheet of one packer set-up: a drawing to scale, the numbers, and blanks for what was done."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.transforms import Bbox

from geoprofile.drawing import theme
from geoprofile.drawing.people import told, translated
from geoprofile.packers.cautions import FIELD_CAUTIONS
from geoprofile.products.boreholes.figure import (
    draw_hole,
    draw_tool,
    draw_water,
    frame_hole,
    mark_depths,
)
from geoprofile.products.packer_plan.figure_rows import SheetBlock, sheet_blocks, span
from geoprofile.products.packer_plan.plan import Plan, Visit

ROW_IN = 0.156  # height of a row where there is room [inch]
ROWS_TOP_IN = 10.5  # [inch]
STEP_WRAP = 56  # letters in the words of a step
CAUTION_PT = 6.5  # size of the cautions
LEFT_IN, RIGHT_IN = 3.55, 7.85  # the rows [inch]
PLANNED_IN, DONE_IN = 5.15, 6.75
WRAP = 28  # letters in the column of what is planned
DRAWING_IN = (0.62, 3.75, 0.95, 6.75)  # left, bottom, width, height [inch]
NOTES_TOP_IN = 3.05
DETAIL_IN = (2.05, 4.9, 0.8, 4.4)


def draw_setup(figure: Figure, plan: Plan, number: int) -> None:
    """Fill an A4 page with the sheet of one set-up.

    Parameters
    ----------
    figure : Figure
        Empty, A4 upright.
    plan : Plan
        With its visits.
    number : int [-]
        From 1.
    """
    visit = plan.visits[number - 1]
    setup = visit.setup
    theme.title(
        figure,
        f"{plan.borehole}: set-up {number} of {len(plan.visits)},"
        f" {span(setup.top_m, setup.bottom_m)}",
        f"{plan.site}   ·   interval {visit.interval}   ·   {setup.isolation}   ·"
        f"   start {visit.steps[0].clock}",
    )
    draw_pair(figure, plan, visit)
    blocks = sheet_blocks(plan, visit)
    row = _row_height(blocks, visit)
    _steps(figure, visit, _rows(figure, blocks, row), row)
    _notes(figure, visit)
    _cautions(figure)


def draw_pair(figure: Figure, plan: Plan, visit: Visit) -> None:
    """The whole hole with the tool in it, and the set-up enlarged."""
    whole = _axes(figure, DRAWING_IN)
    stick_up = visit.tally.stick_up_m
    frame_hole(whole, -stick_up - 0.04 * plan.hole.depth_m, plan.hole.depth_m * 1.01)
    _contents(whole, plan, visit)
    detail = _axes(figure, DETAIL_IN)
    top, bottom = _detail_range(visit)
    frame_hole(detail, top, bottom)
    detail.set_ylabel("")
    _contents(detail, plan, visit)
    depths = [d for element in visit.setup.elements_m for d in element]
    if len(visit.setup.elements_m) == 1:
        depths.append(visit.setup.bottom_m)
    mark_depths(detail, depths, least_gap_m=0.045 * (bottom - top))
    tall = figure.get_size_inches()[1] / theme.PORTRAIT_IN[1]
    inch = DRAWING_IN[3] * tall * 0.0254
    scale = (whole.get_ylim()[0] - whole.get_ylim()[1]) / inch
    lean = ""
    if plan.hole.vertical(plan.hole.depth_m) < 0.999 * plan.hole.depth_m:
        lean = "; inclined, drawn straight"
    near = (bottom - top) / (DETAIL_IN[3] * tall * 0.0254)
    figure.text(
        DRAWING_IN[0] / 8.27,
        (DRAWING_IN[1] - 0.22) / 11.69,
        f"Depth 1 : {scale:.0f} (left), 1 : {near:.0f} (right); widths enlarged{lean}.\n"
        f"Dashed: static level. The mark stands {told(stick_up, 'm')} above ground.",
        size=6.5,
        color=theme.QUIET,
        va="top",
    )


def drawing_svg(plan: Plan, number: int) -> str:
    """The drawing of one set-up alone, as SVG text for a page.

    Parameters
    ----------
    plan : Plan
        With its visits.
    number : int [-]
        From 1.

    Returns
    -------
    str
        An svg element.
    """
    with theme.sheet(theme.paper_portrait()) as figure:
        mpl.rcParams["svg.fonttype"] = "none"  # inside the sheet's own context
        draw_pair(figure, plan, plan.visits[number - 1])
        box = Bbox.from_extents(0.0, 3.2, 3.5, 10.65)
        target = io.StringIO()
        figure.savefig(target, format="svg", bbox_inches=box, metadata={"Date": None})
    text = target.getvalue()
    return text[text.index("<svg") :]


def _axes(figure: Figure, box_in: tuple[float, float, float, float]) -> Axes:
    left, bottom, width, height = box_in
    return figure.add_axes((left / 8.27, bottom / 11.69, width / 8.27, height / 11.69))


def _contents(ax: Axes, plan: Plan, visit: Visit) -> None:
    draw_hole(ax, plan.hole)
    draw_water(ax, plan.hole.static_along_m)
    draw_tool(ax, visit.setup, plan.hole, stick_up_m=visit.tally.stick_up_m)


def _detail_range(visit: Visit) -> tuple[float, float]:
    """Depths that the enlarged drawing spans."""
    top = visit.setup.elements_m[0][0]
    bottom = max(visit.setup.elements_m[-1][1], visit.setup.bottom_m)
    rest = 0.12 * (bottom - top)
    return top - rest, bottom + rest


def _row_height(blocks: Sequence[SheetBlock], visit: Visit) -> float:
    """Height of a row [inch]: lower where the sheet is full, so that it ends above the cautions."""
    lines = sum(
        max(len(textwrap.wrap(r.label, 30)), len(textwrap.wrap(r.planned, WRAP)), 1)
        for block in blocks
        for r in block.rows
    )
    lines += sum(len(textwrap.wrap(step.what, STEP_WRAP)) for step in visit.steps)
    headings = len(blocks) + 1
    room = ROWS_TOP_IN - 0.03 * headings - (_cautions_top() + 0.18)
    return min(ROW_IN, room / (lines + 1.25 * headings))


def _rows(figure: Figure, blocks: Sequence[SheetBlock], row_in: float) -> float:
    """The rows of the sheet; gives the height [inch] at which they end."""
    y = ROWS_TOP_IN
    for x, words in ((PLANNED_IN, "planned"), (DONE_IN, "done")):
        _write(figure, x, y, words, colour=theme.QUIET)
    for block in blocks:
        y -= 1.25 * row_in
        _write(figure, LEFT_IN, y, block.heading, bold=True)
        _line(figure, LEFT_IN, RIGHT_IN, y - 0.05)
        y -= 0.03
        for row in block.rows:
            label = textwrap.wrap(row.label, 30)
            lines = textwrap.wrap(row.planned, WRAP) or [""]
            for k in range(max(len(label), len(lines))):
                y -= row_in
                _write(figure, LEFT_IN, y, label[k] if k < len(label) else "")
                _write(figure, PLANNED_IN, y, lines[k] if k < len(lines) else "")
            if row.has_blank:
                _line(figure, DONE_IN, RIGHT_IN, y - 0.035, colour=theme.FAINT)
    return y


def _steps(figure: Figure, visit: Visit, y: float, row_in: float) -> None:
    """When each step falls."""
    y -= 1.25 * row_in
    _write(figure, LEFT_IN, y, "Time of the day", bold=True)
    _line(figure, LEFT_IN, RIGHT_IN, y - 0.05)
    y -= 0.03
    for step in visit.steps:
        for k, words in enumerate(textwrap.wrap(step.what, STEP_WRAP)):
            y -= row_in
            _write(figure, LEFT_IN, y, step.clock if k == 0 else "")
            _write(figure, LEFT_IN + 0.95, y, words)


def _notes(figure: Figure, visit: Visit) -> None:
    """What is special about this set-up, below the drawing."""
    if not visit.notes:
        return
    lines = [
        line
        for note in map(translated, visit.notes)
        for line in textwrap.wrap(f"{note[0].upper()}{note[1:]}.", 52)
    ]
    _write(figure, 0.41, NOTES_TOP_IN, "Mind here", bold=True)
    figure.text(
        0.41 / 8.27,
        (NOTES_TOP_IN - 0.08) / 11.69,
        "\n".join(lines),
        size=6.8,
        va="top",
        linespacing=1.3,
    )


def _caution_lines() -> list[str]:
    return [line for words in FIELD_CAUTIONS for line in textwrap.wrap(words, 152)]


def _cautions_top() -> float:
    """Where they begin [inch]."""
    return 0.4 + len(_caution_lines()) * CAUTION_PT * 1.32 / 72


def _cautions(figure: Figure) -> None:
    """What holds always, over the full width at the foot."""
    lines = _caution_lines()
    size, top = CAUTION_PT, _cautions_top()
    _line(figure, 0.41, RIGHT_IN, top + 0.08)
    figure.text(0.41 / 8.27, top / 11.69, "\n".join(lines), size=size, va="top", linespacing=1.32)


def _write(
    figure: Figure, x: float, y: float, words: str, *, bold: bool = False, colour: str = theme.INK
) -> None:
    """Text at a place in inches."""
    weight = "bold" if bold else "normal"
    figure.text(x / 8.27, y / 11.69, words, size=7.2, weight=weight, color=colour)


def _line(
    figure: Figure, left: float, right: float, y: float, *, colour: str = theme.QUIET
) -> None:
    """A thin rule, ends in inches."""
    figure.add_artist(Line2D([left / 8.27, right / 8.27], [y / 11.69] * 2, color=colour, lw=0.6))
