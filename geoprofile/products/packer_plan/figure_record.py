"""The page that the crew writes on by hand: who, when, in what weather, and time against level."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from geoprofile.drawing import people, theme
from geoprofile.products.packer_plan.figure_rows import span
from geoprofile.products.packer_plan.plan import Plan

HEAD = ("Name", "Date", "Weather, air temperature", "Signature")
HEAD_TOP_IN, HEAD_STEP_IN = 10.35, 0.42
TABLE_TOP_IN, TABLE_FOOT_IN, LINES = 8.4, 0.75, 34
EDGES_IN = (0.6, 1.6, 2.6, 3.9, 5.2, 6.3, 7.8)


def headings() -> tuple[str, ...]:
    """Columns of the table, with the units that the crew reads."""
    length, pressure = people.now().unit("m"), people.now().unit("kPa")
    return (
        "test no.",
        "time of day",
        "time since start\n[min:s]",
        f"level in the pipe\nbelow the mark [{length}]",
        f"level outside\n[{length}]",
        f"gauge\n[{pressure}], remark",
    )


def draw_record(figure: Figure, plan: Plan, number: int) -> None:
    """Fill a page with blanks for one set-up.

    Parameters
    ----------
    figure : Figure
        Empty, upright.
    plan : Plan
        With its visits.
    number : int [-]
        From 1.
    """
    visit = plan.visits[number - 1]
    theme.title(
        figure,
        f"{plan.borehole}: record of set-up {number},"
        f" {span(visit.setup.top_m, visit.setup.bottom_m)}",
        f"{plan.site}   ·   interval {visit.interval}   ·   by hand, beside the logger",
    )
    for place, words in enumerate(HEAD):
        column, row = place % 2, place // 2
        left = 0.6 + 3.7 * column
        y = HEAD_TOP_IN - HEAD_STEP_IN * row
        _write(figure, left, y, words)
        _rule(figure, left + 1.45, left + 3.45, y - 0.04)
    y = HEAD_TOP_IN - 2.0 * HEAD_STEP_IN
    for words in (
        "Mark (what the levels count from), its height above ground",
        "Static level before",
    ):
        _write(figure, 0.6, y, f"{words} [{people.now().unit('m')}]")
        _rule(figure, 5.0, 7.75, y - 0.04)
        y -= 0.75 * HEAD_STEP_IN
    _table(figure)
    _write(
        figure,
        0.6,
        0.45,
        "Write what is seen, not what is expected; strike out once, do not erase. Stand clear of a"
        " hole under pressure.",
    )


def _table(figure: Figure) -> None:
    step = (TABLE_TOP_IN - TABLE_FOOT_IN) / (LINES + 1)
    for left, words in zip(EDGES_IN, headings(), strict=False):
        figure.text(
            (left + 0.05) / 8.27,
            (TABLE_TOP_IN - 0.03) / 11.69,
            words,
            size=6.8,
            va="bottom",
            linespacing=1.1,
        )
    for line in range(LINES + 1):
        _rule(figure, EDGES_IN[0], EDGES_IN[-1], TABLE_TOP_IN - 0.08 - line * step)
    for x in EDGES_IN:
        ends = (TABLE_TOP_IN - 0.08, TABLE_TOP_IN - 0.08 - LINES * step)
        figure.add_artist(
            Line2D([x / 8.27] * 2, [y / 11.69 for y in ends], color=theme.FAINT, lw=0.6)
        )


def _write(figure: Figure, x: float, y: float, words: str) -> None:
    figure.text(x / 8.27, y / 11.69, words, size=8)


def _rule(figure: Figure, left: float, right: float, y: float) -> None:
    figure.add_artist(
        Line2D([left / 8.27, right / 8.27], [y / 11.69] * 2, color=theme.FAINT, lw=0.6)
    )
