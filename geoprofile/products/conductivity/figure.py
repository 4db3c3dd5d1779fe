"""The figure of one hydraulic test: all readings, those used, the fits and the verdict in words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from geoprofile.drawing import people, theme
from geoprofile.drawing.levels import tidy

if TYPE_CHECKING:
    from geoprofile.drawing.document import Document
    from geoprofile.hydraulics.tests import Conductivity, HydraulicTest, TestAnalysis

Array: TypeAlias = NDArray[np.float64]
DASHES = ("solid", (0, (5, 2)), (0, (1.2, 1.5)), (0, (6, 2, 1, 2)))
MOST_POINTS = 1500
OTHER_KIND = "made for "  # reasons that say no more than that the test is of another kind
CAUTION = (
    "A fit is an interpretation. Before K carries a design or a decision have the test, the "
    "set-up and the packer seal judged by a licensed professional."
)


def response_figure(
    test: HydraulicTest,
    analysis: TestAnalysis,
    path: str | Path,
    formats: Sequence[str] = ("png", "svg"),
    *,
    made_on: str = "",
    document: Document | None = None,
) -> tuple[Path, ...]:
    """Draw one test with its fits.

    Parameters
    ----------
    test : HydraulicTest
        The readings, or the pressure steps.
    analysis : TestAnalysis
        The fits; results without curves are listed but not drawn.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.
    made_on : str
        Day of the test; "" where it is not known.
    document : Document, optional
        The title block; its author is named as the analyst.

    Returns
    -------
    tuple of Path
        The files written.
    """
    with theme.sheet(theme.paper_landscape()) as figure:
        draw_test(figure, test, analysis, made_on=made_on, document=document)
        return theme.save(figure, path, formats)


def draw_test(
    figure: Figure,
    test: HydraulicTest,
    analysis: TestAnalysis,
    *,
    made_on: str = "",
    document: Document | None = None,
) -> None:
    """Put a test on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, across.
    test : HydraulicTest
        The readings, or the pressure steps.
    analysis : TestAnalysis
        The fits.
    made_on : str
        Day of the test.
    document : Document, optional
        The title block.
    """
    left = figure.add_axes((0.07, 0.17, 0.28, 0.66))
    right = figure.add_axes((0.42, 0.17, 0.28, 0.66))
    if test.pressure_steps:
        _pressure_steps(left, right, test, analysis)
    else:
        _whole(left, test, analysis)
        _fits(right, analysis)
    _verdict(figure, analysis)
    _budget(figure, analysis)
    about = f"{test.kind}, {test.isolation}, {round(test.interval_length_m, 2):g} m long"
    author = "" if document is None else document.author
    about = people.translated(about)
    about += f"   ·   analyst: {author or 'not named'}, method chosen by the "
    about += "user" if analysis.by_user else "program"
    theme.title(figure, people.translated(test.where[0].upper() + test.where[1:]), about)
    told = set_up(test, analysis, made_on=made_on)
    theme.fitted(figure, 0.05, 0.892, told, size=7.5, most=0.9)
    theme.foot(figure, [], CAUTION, document=document)


def set_up(test: HydraulicTest, analysis: TestAnalysis, *, made_on: str) -> str:
    """Day, radii, displacement at the start and temperature in one line.

    Parameters
    ----------
    test : HydraulicTest
        With its radii.
    analysis : TestAnalysis
        Gives the displacement at the start that was used.
    made_on : str
        "" where nobody told.

    Returns
    -------
    str
        What nobody told is named as such.
    """
    best = analysis.best
    start = None if best is None else best.initial_displacement_m
    riser = test.effective_riser_radius_m
    parts = [
        f"Made on {made_on or 'a day not told'}",
        "no riser told" if riser is None else f"riser radius {_radius(riser)}",
        f"hole radius {_radius(test.hole_radius_m)}",
        _metres("H0 meant", test.expected_displacement_m),
        _metres("H0 used", start),
        "water temperature not told"
        if test.water_temperature_c is None
        else f"water {test.water_temperature_c:g} °C",
    ]
    return "   ·   ".join(part for part in parts if part)


def _metres(name: str, value: float | None) -> str:
    return "" if value is None else f"{name} {people.few(value, 'm', 3)} {people.now().unit('m')}"


def _radius(value: float) -> str:
    return people.told(1000 * value, "mm", 1 if people.now().unit("mm") == "mm" else 2)


def _drawn(analysis: TestAnalysis) -> list[Conductivity]:
    """Results with a curve, the preferred one first."""
    best = analysis.best
    results = [r for r in analysis.results if len(r.time_s)]
    return sorted(results, key=lambda r: r is not best)[: len(DASHES)]


def _thin(count: int) -> NDArray[np.intp]:
    """Rows of a long record that are drawn."""
    if count <= MOST_POINTS:
        return np.arange(count)
    early = np.arange(MOST_POINTS // 2)
    late = np.geomspace(MOST_POINTS // 2, count - 1, MOST_POINTS // 2).astype(np.intp)
    return np.unique(np.concatenate([early, late]))


def _whole(axes: Axes, test: HydraulicTest, analysis: TestAnalysis) -> None:
    """The record as it was: displacement against time, with the zone outside."""
    rows = _thin(len(test.elapsed_s))
    axes.plot(
        test.elapsed_s[rows],
        test.displacement_m[rows],
        ".",
        markersize=2.5,
        color=theme.QUIET,
        label="isolated zone",
    )
    if test.outside_displacement_m is not None:
        axes.plot(
            test.elapsed_s[rows],
            test.outside_displacement_m[rows],
            "-",
            linewidth=1.0,
            color=theme.WARN,
            label="outside the packers",
        )
    axes.axhline(0.0, color=theme.FAINT, linewidth=0.8)
    if test.expected_displacement_m is not None:
        axes.plot(
            [0.0],
            [test.expected_displacement_m],
            marker="D",
            markersize=6,
            markerfacecolor=theme.PAPER,
            markeredgecolor=theme.STOP,
            linestyle="none",
            label="displacement meant",
        )
    best = analysis.best
    if best is not None and best.start_s is not None:
        axes.axvline(
            best.start_s,
            color=theme.WATER,
            linewidth=0.9,
            linestyle=(0, (4, 2)),
            label="start used",
        )
    axes.set_xlabel("Time since the start of the test [s]")
    axes.set_ylabel("Displacement from static [m]")
    people.length_axis(axes.yaxis)
    axes.set_title("All readings", loc="left")
    axes.legend(loc="best")


def _fits(axes: Axes, analysis: TestAnalysis) -> None:
    """Normalised head against time with the fits; readings used stand out."""
    drawn = _drawn(analysis)
    axes.set_xlabel("Time since the start used [s]")
    axes.set_ylabel("Normalised head [-]")
    axes.set_title("Fit", loc="left")
    if not drawn:
        axes.text(
            0.5, 0.5, "no method applies", transform=axes.transAxes, ha="center", color=theme.QUIET
        )
        return
    first = drawn[0]
    underdamped = bool(np.min(first.measured) < -0.05)
    rows = _thin(len(first.time_s))
    time, head = first.time_s[rows], first.measured[rows]
    used = first.used[rows] if len(first.used) == len(first.time_s) else np.ones(len(rows), bool)
    shown = np.ones(len(rows), bool) if underdamped else head > 0
    axes.plot(
        time[shown & ~used],
        head[shown & ~used],
        ".",
        markersize=3,
        color=theme.FAINT,
        label="not used" if (shown & ~used).any() else None,
    )
    axes.plot(
        time[shown & used], head[shown & used], ".", markersize=3.5, color=theme.INK, label="used"
    )
    for dash, result in zip(DASHES, drawn, strict=False):
        at = _thin(len(result.time_s))
        curve = result.fitted[at]
        keep = np.ones(len(at), bool) if underdamped else curve > 0
        axes.plot(
            result.time_s[at][keep],
            curve[keep],
            linestyle=dash,
            linewidth=1.4,
            color=theme.STOP if result is first else theme.WATER,
            label=result.method,
        )
    if not underdamped:
        axes.set_yscale("log")
        axes.set_ylim(max(float(head[shown].min()) * 0.7, 1e-3), 1.5)
    if first.window is not None:
        for edge in first.window:
            axes.axhline(edge, color=theme.STOP, linewidth=0.6, linestyle=(0, (1, 2)))
    axes.legend(loc="best")


def _pressure_steps(left: Axes, right: Axes, test: HydraulicTest, analysis: TestAnalysis) -> None:
    """Flow against net head of every pressure step, and the pressure steps in their order."""
    _lugeons(left, test, analysis)
    right.set_xlabel("Flow [L/min]")
    right.set_ylabel("Net head in the zone [m]")
    right.set_title("Head against flow", loc="left")
    for dash, result in zip(DASHES, _drawn(analysis), strict=False):
        order = np.argsort(result.time_s)
        right.plot(result.time_s * 60_000, result.measured, "o", color=theme.INK, markersize=5)
        right.plot(
            result.time_s[order] * 60_000,
            result.fitted[order],
            linestyle=dash,
            color=theme.STOP,
            linewidth=1.4,
            label=result.method,
        )
    if right.lines:
        right.legend(loc="best")
        right.set_xlim(left=0)
        right.set_ylim(bottom=0)


def _lugeons(axes: Axes, test: HydraulicTest, analysis: TestAnalysis) -> None:
    """Lugeon value of every step in its order; those that stand for the test are filled."""
    axes.set_xlabel("PressureStep")
    axes.set_ylabel("Lugeon value [Lu], 1 L/min per m at 1 MPa")
    axes.set_title("Lugeon values in their order", loc="left")
    ordered = sorted(analysis.results, key=lambda r: r is not analysis.best)
    result = next((r for r in ordered if r.step_lugeon.size), None)
    if result is None:
        axes.text(
            0.5, 0.5, "no Lugeon values", transform=axes.transAxes, ha="center", color=theme.QUIET
        )
        return
    numbers = [s.step for s in test.pressure_steps]
    colours = [theme.WATER if used else theme.PAPER for used in result.used]
    axes.bar(numbers, result.step_lugeon, color=colours, edgecolor=theme.INK, width=0.7)
    if result.lugeon is not None:
        axes.axhline(result.lugeon, color=theme.STOP, linewidth=1.0, linestyle=(0, (4, 2)))
        axes.annotate(
            f"stands for the test: {tidy(_two(result.lugeon))} Lu",
            (0.03, 0.95),
            xycoords="axes fraction",
            size=8,
            color=theme.STOP,
        )
    axes.set_xticks(numbers)
    axes.set_ylim(0, 1.2 * float(np.max(result.step_lugeon)))


def _budget(figure: Figure, analysis: TestAnalysis) -> None:
    """A small bar of what spreads K: shares of the variance of log10 K."""
    best = analysis.best
    parts = [] if best is None else [p for p in best.parts if p.sd_ln > 0]
    if not parts:
        return
    parts.sort(key=lambda p: -p.sd_ln)
    whole = sum(p.sd_ln**2 for p in parts)
    shares = [p.sd_ln**2 / whole for p in parts]
    axes = figure.add_axes((0.735, 0.185, 0.24, 0.018))
    start = 0.0
    tones = (theme.STOP, theme.WARN, theme.WATER, theme.QUIET, theme.FAINT)
    words = []
    for rank, (one, share) in enumerate(zip(parts, shares, strict=True)):
        tone = tones[min(rank, len(tones) - 1)]
        axes.barh(0, share, left=start, color=tone, edgecolor=theme.PAPER, linewidth=0.5)
        start += share
        if rank < 4 and share >= 0.03:
            words.append(f"{one.name} {100 * share:.0f} %")
    axes.set_xlim(0, 1)
    axes.set_axis_off()
    figure.text(0.735, 0.208, "What spreads K (variance of log10 K)", size=7, weight="bold")
    shown = textwrap.fill("; ".join(words), 52)
    figure.text(0.735, 0.178, shown, size=6.5, va="top", linespacing=1.3)


def _verdict(figure: Figure, analysis: TestAnalysis) -> None:
    """K by method, grade and reasons at the right."""
    lines = [f"Grade: {analysis.grade}" + (" (chosen by the user)" if analysis.by_user else "")]
    figure.text(0.735, 0.83, lines[0], weight="bold", size=10, va="top")
    words = []
    best = analysis.best
    for result in sorted(analysis.results, key=lambda r: r is not best):
        mark = "preferred: " if result is best else ""
        words.append(f"{mark}{result.method}")
        ends = f"{tidy(_two(result.k_low_m_per_s))} to {tidy(_two(result.k_high_m_per_s))}"
        words.append(f"   K = {tidy(_two(result.k_m_per_s))} m/s (95 %: {ends})")
    for note in dict.fromkeys((*analysis.notes, *(best.notes if best is not None else ()))):
        words += [
            ("" if k else "– ") + ("   " if k else "") + part
            for k, part in enumerate(textwrap.wrap(note, 44))
        ]
    for method, reason in analysis.not_applicable:
        if reason.startswith(OTHER_KIND):
            continue
        words += [
            ("   " if k else "") + part
            for k, part in enumerate(textwrap.wrap(f"{method} not used: {reason}", 46))
        ]
    figure.text(0.735, 0.79, "\n".join(words[:30]), size=6.8, va="top", linespacing=1.45)


def _two(value: float) -> float:
    """Two significant digits."""
    return float(f"{value:.2g}")
