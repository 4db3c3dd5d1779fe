"""The first pages of a field plan: all zones in the hole, what can be measured, and the list."""

from __future__ import annotations

import textwrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from geoprofile.drawing import people, theme
from geoprofile.drawing.levels import tidy
from geoprofile.drawing.people import plain
from geoprofile.packers.cautions import FIRST
from geoprofile.packers.equipment import CENTIMETRE
from geoprofile.products.boreholes.figure import WALL, ZONE_FACE, draw_hole, draw_water, frame_hole
from geoprofile.products.packer_plan.figure_rows import hours
from geoprofile.products.packer_plan.plan import Plan, Visit

ROWS_A_PAGE = 40
METHOD_STYLES: dict[str, dict[str, Any]] = {
    "slug test": {"color": "#8a939c", "lw": 3.2},
    "constant head": {"color": "#c3c9ce", "lw": 3.2},
    "pressure pulse": {"color": "#4d565f", "lw": 1.4},
}
HEADINGS = (
    ("no.", 0.41),
    ("zone [{m}]", 0.75),
    ("elements to [{m}]", 1.75),
    ("stick-up [{m}]", 2.65),
    ("gauge [{kPa}]", 3.4),
    ("K [m/s]", 4.3),
    ("test", 4.9),
    ("purge [{L}]", 5.7),
    ("day, time", 6.65),
    ("takes", 7.45),
)


def draw_overview(figure: Figure, plan: Plan) -> None:
    """The hole with its zones, and the range of K that each test can measure in each of them."""
    _heading(figure, plan)
    hole = _axes(figure, (0.75, 4.2, 1.6, 6.1))
    frame_hole(hole, -0.03 * plan.hole.depth_m, plan.hole.depth_m * 1.01)
    draw_hole(hole, plan.hole)
    draw_water(hole, plan.hole.static_along_m)
    _zones(hole, plan)
    ranges = _axes(figure, (3.6, 4.2, 4.2, 6.1))
    _ranges(ranges, plan)
    figure.text(0.05, 3.55 / 11.69, _words(plan), size=7.4, va="top", linespacing=1.45)


def draw_list(figure: Figure, plan: Plan, first: int) -> None:
    """The set-ups as a list, from number `first` (0 for the first) on."""
    _heading(figure, plan)
    y = 10.45
    for words, x in HEADINGS:
        named = words.format(**{u: people.now().unit(u) for u in ("m", "kPa", "L")})
        figure.text(x / 8.27, y / 11.69, named, size=7, weight="bold")
    for number, visit in enumerate(plan.visits[first : first + ROWS_A_PAGE], start=first + 1):
        y -= 0.21
        cells = _cells(number, visit)
        for (_, x), words in zip(HEADINGS, cells, strict=True):
            figure.text(x / 8.27, y / 11.69, words, size=7)


def _heading(figure: Figure, plan: Plan) -> None:
    purposes = {
        "hydraulic": "hydraulic profile without a gap",
        "chemistry": "zones apart for sampling",
        "both": "zones apart: head, sample, withdrawal, injection last",
    }
    count = f"{len(plan.visits)} set-up{'' if len(plan.visits) == 1 else 's'}"
    about = f"{plan.site} · {purposes[plan.purpose]} · {count} in {plan.days_words}"
    main = f"Field plan of borehole {plan.borehole}, {packers_taken(plan)}"
    theme.title(figure, main, about)


def packers_taken(plan: Plan) -> str:
    """The packers of the set-ups, in the order in which the crew needs them.

    Parameters
    ----------
    plan : Plan
        Whose zones, where advised, may each have a packer of their own.

    Returns
    -------
    str
        Such as `packer P1`, or `packers P1 and P2`.
    """
    names = list(dict.fromkeys(v.setup.packer.packer for v in plan.visits))
    if len(names) < 2:
        return f"packer {names[0] if names else plan.packer.packer}"
    return f"packers {', '.join(names[:-1])} and {names[-1]}"


def _zones(ax: Axes, plan: Plan) -> None:
    """Zones as boxes, every other one to the right, so that overlaps can be seen."""
    for number, visit in enumerate(plan.visits, start=1):
        left = -WALL if number % 2 else 0.0
        setup = visit.setup
        ax.add_patch(
            Rectangle(
                (left, setup.top_m),
                WALL,
                setup.length_m,
                fc=ZONE_FACE,
                ec=theme.INK,
                lw=0.6,
                zorder=7,
            )
        )
        middle = 0.5 * (setup.top_m + setup.bottom_m)
        ax.text(left + WALL / 2, middle, str(number), size=6, ha="center", va="center", zorder=8)
    for top, bottom in plan.untested_m:
        ax.add_patch(
            Rectangle(
                (-WALL, top),
                2 * WALL,
                bottom - top,
                fc="none",
                ec=theme.QUIET,
                hatch="////",
                lw=0,
                zorder=3,
            )
        )


def _ranges(ax: Axes, plan: Plan) -> None:
    """What each test measures in each zone against the K that is expected."""
    count = len(plan.visits)
    for number, visit in enumerate(plan.visits, start=1):
        for k, held in enumerate(visit.choice.ranges):
            ax.plot(
                [held.low_m_per_s, held.high_m_per_s],
                [number + 0.24 * (k - 1)] * 2,
                solid_capstyle="butt",
                label=held.method if number == 1 else None,
                **METHOD_STYLES[held.method],
            )
        if visit.k is not None:
            ax.plot(
                [visit.k.low_m_per_s, visit.k.high_m_per_s], [number] * 2, color=theme.INK, lw=0.8
            )
            ax.plot(
                visit.k.median_m_per_s,
                number,
                "D",
                ms=4,
                mfc=theme.PAPER,
                mec=theme.INK,
                mew=0.9,
                label="K expected" if number == 1 else None,
                ls="none",
            )
    ax.set_xscale("log")
    ax.set_ylim(count + 0.6, 0.4)
    step = max(1, round(count / 20))
    ax.set_yticks(range(1, count + 1, step))
    ax.set_ylabel("Number of the set-up")
    ax.set_xlabel("K that the test can measure [m/s]")
    ax.grid(axis="x", color=theme.FAINT, lw=0.5)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=4, columnspacing=1.2)


def _what_stays(plan: Plan) -> str:
    """The head of what stays untested: of advised zones the rest of the hole is not spoken of."""
    if plan.untested_m:
        return "hatched rock stays untested:"
    open_m = sum(s.bottom_m - s.top_m for s in plan.hole.open_sections)
    if sum(v.setup.length_m for v in plan.visits) < open_m - CENTIMETRE:
        return "only the zones asked for are planned."
    return "no open hole stays untested."


def _words(plan: Plan) -> str:
    """What stays untested and why, and the first caution."""
    lines = [f"{FIRST}. Widths of the hole are enlarged; {_what_stays(plan)}"]
    told: dict[str, list[str]] = {}
    for (top, bottom), reason in zip(plan.untested_m, plan.reasons, strict=True):
        told.setdefault(reason, []).append(f"{plain(top, 'm')}-{plain(bottom, 'm')}")
    lines += [
        f"{', '.join(places)} {people.now().unit('m')}: {people.translated(reason)}."
        for reason, places in told.items()
    ]
    lines += map(people.translated, plan.long_zones)
    if plan.assumptions:
        lines.append(f"{plan.days_words} of work: {'; '.join(plan.assumptions)}.")
    lines.append(
        "Check the position of every packer element against core, caliper and image logs; measure"
        " every pipe on site. A pulse and an injection reach the K shown only if the leak of packer"
        " and string was measured in casing first."
    )
    return "\n".join(part for line in lines for part in textwrap.wrap(line, 128))


def _cells(number: int, visit: Visit) -> tuple[str, ...]:
    """One row of the list."""
    setup = visit.setup
    minutes = sum(s.minutes for s in visit.steps)
    return (
        str(number),
        f"{plain(setup.top_m, 'm')} to {plain(setup.bottom_m, 'm')}",
        f"{plain(setup.elements_m[0][0], 'm')}, {plain(setup.elements_m[-1][1], 'm')}",
        plain(visit.tally.stick_up_m, "m"),
        plain(visit.inflation.gauge_pa / 1e3, "kPa", 0),
        "not known" if visit.k is None else tidy(float(f"{visit.k.median_m_per_s:.2g}")),
        visit.choice.method or "none",
        plain(visit.purge.total_m3 * 1e3, "L", 0),
        visit.steps[0].clock.removeprefix("day ").replace(" ", ", "),
        hours(60 * minutes),
    )


def _axes(figure: Figure, box_in: tuple[float, float, float, float]) -> Axes:
    left, bottom, width, height = box_in
    return figure.add_axes((left / 8.27, bottom / 11.69, width / 8.27, height / 11.69))
