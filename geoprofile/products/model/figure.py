"""How well a field predicts boreholes that it has not seen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from geoprofile.drawing import theme
from geoprofile.drawing.levels import SHOWN_UNITS

if TYPE_CHECKING:
    from geoprofile.drawing.document import Document

Array: TypeAlias = NDArray[np.float64]
HALF_80 = 1.2815515655446004  # [-] normal quantile of 90 %
CAUTION = (
    "A field that predicts its boreholes well may still miss what lies between them. Coverage "
    "speaks of the data at hand, not of ground that was never tested."
)


class Validation(Protocol):
    """What the figure needs of a cross-validation: arrays (n,), log10 of the unit."""

    @property
    def mean(self) -> Array:
        """Predicted values."""

    @property
    def sd(self) -> Array:
        """Their spread."""

    @property
    def residual(self) -> Array:
        """Measured less predicted; NaN for non-detects."""

    @property
    def position(self) -> Array:
        """Predicted probability of lying below the measured value [-]."""

    @property
    def coverage_50(self) -> float:
        """Share inside the 50 % interval [-]."""

    @property
    def coverage_80(self) -> float:
        """Share inside the 80 % interval [-]."""

    @property
    def coverage_95(self) -> float:
        """Share inside the 95 % interval [-]."""


def validation_figure(
    check: Validation,
    quantity: str,
    unit: str,
    path: str | Path,
    *,
    limits: Array | None = None,
    formats: Sequence[str] = ("png", "svg"),
    document: Document | None = None,
) -> tuple[Path, ...]:
    """Draw a cross-validation by held-out boreholes.

    Parameters
    ----------
    check : Validation
        From the fitted model [log10 of the unit].
    quantity, unit : str
        What was predicted.
    path : str or Path
        Of the files, without suffix.
    limits : Array, optional, shape (n,) [log10 of the unit]
        Limits of the non-detects, NaN for detected values.
    formats : sequence of str
        png, svg or pdf.
    document : Document, optional
        The title block.

    Returns
    -------
    tuple of Path
        The files written.
    """
    with theme.sheet(theme.paper_landscape()) as figure:
        draw_validation(figure, check, quantity, unit=unit, limits=limits, document=document)
        return theme.save(figure, path, formats)


def draw_validation(
    figure: Figure,
    check: Validation,
    quantity: str,
    *,
    unit: str,
    limits: Array | None,
    document: Document | None = None,
) -> None:
    """Put a cross-validation on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, across.
    check : Validation
        Arrays [log10 of the unit].
    quantity, unit : str
        What was predicted.
    limits : Array or None, shape (n,) [log10 of the unit]
        Limits of the non-detects.
    document : Document, optional
        The title block.
    """
    left = figure.add_axes((0.08, 0.15, 0.42, 0.68))
    _scatter(left, check, SHOWN_UNITS.get(unit, unit), limits)
    upper = figure.add_axes((0.6, 0.53, 0.35, 0.3))
    _coverage(upper, check)
    lower = figure.add_axes((0.6, 0.15, 0.35, 0.24))
    _positions(lower, check)
    hits = int(np.isfinite(check.residual).sum())
    spread = float(np.sqrt(np.nanmean(check.residual**2))) if hits else float("nan")
    theme.title(
        figure,
        f"{quantity}: each borehole predicted from the others",
        f"{hits} values, {len(check.residual) - hits} non-detects; "
        f"typical miss a factor of {10**spread:.1f}",
    )
    theme.foot(figure, [], CAUTION, document=document)


def _scatter(axes: Any, check: Validation, unit: str, limits: Array | None) -> None:
    """Measured against predicted with 80 % intervals."""
    hit = np.isfinite(check.residual)
    measured = check.mean + check.residual
    ends = [check.mean - HALF_80 * check.sd, check.mean + HALF_80 * check.sd]
    shown = np.concatenate([measured[hit], check.mean])
    low, high = np.floor(shown.min()), np.ceil(shown.max())
    axes.plot([10**low, 10**high], [10**low, 10**high], color=theme.QUIET, linewidth=0.8)
    inside = hit & (np.abs(check.residual) <= HALF_80 * check.sd)
    for rows, face in ((inside, theme.WATER), (hit & ~inside, theme.WARN)):
        axes.vlines(
            10 ** measured[rows],
            10 ** ends[0][rows],
            10 ** ends[1][rows],
            color=theme.FAINT,
            linewidth=1.0,
            zorder=1,
        )
        axes.plot(
            10 ** measured[rows],
            10 ** check.mean[rows],
            "o",
            markersize=4.2,
            markerfacecolor=face,
            markeredgecolor=theme.INK,
            markeredgewidth=0.5,
            linestyle="none",
            label="inside its 80 % interval" if face == theme.WATER else "outside it",
        )
    if limits is not None and np.isfinite(limits).any():
        rows = np.isfinite(limits)
        axes.plot(
            10 ** limits[rows],
            10 ** check.mean[rows],
            "<",
            markersize=5,
            markerfacecolor=theme.PAPER,
            markeredgecolor=theme.INK,
            markeredgewidth=0.7,
            linestyle="none",
            label="not detected: below its limit",
        )
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(10**low, 10**high)
    axes.set_ylim(10**low, 10**high)
    axes.set_xlabel(f"Measured [{unit}]")
    axes.set_ylabel(f"Predicted without its borehole [{unit}]")
    axes.legend(loc="upper left")


def _coverage(axes: Any, check: Validation) -> None:
    """Share of values inside their intervals beside the share that ought to be."""
    stated = np.array([50.0, 80.0, 95.0])
    found = 100 * np.array([check.coverage_50, check.coverage_80, check.coverage_95])
    axes.bar(np.arange(3) - 0.18, stated, 0.34, color=theme.FAINT, label="ought to be")
    axes.bar(np.arange(3) + 0.18, found, 0.34, color=theme.WATER, label="found")
    for k, value in enumerate(found):
        axes.text(k + 0.18, value + 1, f"{value:.0f}", ha="center", size=7)
    axes.set_xticks(range(3), ["50 %", "80 %", "95 %"])
    axes.set_ylim(0, 118)
    axes.set_ylabel("Values inside [%]")
    axes.set_title("Coverage of the intervals", loc="left")
    axes.legend(loc="upper left", ncols=2)


def _positions(axes: Any, check: Validation) -> None:
    """Where the measured values lie in what was predicted: flat is honest."""
    position = check.position[np.isfinite(check.position)]
    counts, edges = np.histogram(position, bins=10, range=(0, 1))
    axes.bar(edges[:-1] + 0.05, counts, 0.092, color=theme.WATER)
    axes.axhline(len(position) / 10, color=theme.INK, linewidth=0.8, linestyle=(0, (4, 2)))
    axes.set_xlim(0, 1)
    axes.set_xlabel("Position of the measured value in what was predicted [-]")
    axes.set_ylabel("Values")
    axes.yaxis.get_major_locator().set_params(integer=True)
    axes.set_title("Even where the spread is right", loc="left")
