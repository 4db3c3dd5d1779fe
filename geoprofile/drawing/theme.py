"""One look for all figures: sizes, ramps that print in grey, and files that come out the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from geoprofile.drawing.symbols import (
    BELOW,
    EDGE,
    FAINT,
    INK,
    PAPER,
    QUIET,
    STOP,
    WARN,
    WATER,
    class_colours,
)
from geoprofile.drawing.symbols import GROUND_LINE as GROUND
from geoprofile.whole import whole_file

__all__ = [
    "BELOW",
    "EDGE",
    "FAINT",
    "GROUND",
    "INK",
    "PAPER",
    "QUIET",
    "STOP",
    "WARN",
    "WATER",
    "band_colours",
    "foot",
    "save",
    "sheet",
    "text_on",
    "title",
]

if TYPE_CHECKING:
    from geoprofile.drawing.levels import Bandwidth

HALO = (withStroke(linewidth=2.2, foreground=PAPER),)
LANDSCAPE_IN = (11.69, 8.27)  # A4 [inch]
PORTRAIT_IN = (8.27, 11.69)
DPI = 150
CAUTION = (
    "Interpolated between boreholes: what lies between them was not measured. Decide nothing about "
    "health, digging or drilling from this drawing without a licensed professional."
)
CAUTION_SHORT = (
    "Values are means over their intervals. Judge health, digging or drilling only with a licensed "
    "professional."
)

STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "text.color": INK,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "axes.titlesize": 9.0,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "hatch.linewidth": 0.5,
    "legend.frameon": False,
    "legend.fontsize": 7.5,
    "svg.hashsalt": "geoprofile",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
    "savefig.facecolor": PAPER,
}


@contextmanager
def sheet(size_in: tuple[float, float]) -> Iterator[Figure]:
    """An empty figure of that size [inch] in our look; leaves no global state behind."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)
        figure = Figure(figsize=size_in, dpi=DPI)
        FigureCanvasAgg(figure)
        yield figure


def save(figure: Figure, path: str | Path, formats: Sequence[str]) -> tuple[Path, ...]:
    """Write the figure once per format; the same drawing gives the same bytes."""
    written = []
    for suffix in formats:
        target = Path(f"{path}.{suffix}")
        target.parent.mkdir(parents=True, exist_ok=True)
        undated = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {"Software": None}}
        with whole_file(target) as beside:
            figure.savefig(beside, format=suffix, metadata=undated.get(suffix))
        written.append(target)
    return tuple(written)


def band_colours(width: Bandwidth, quantity: str) -> list[str]:
    """A colour for every band: below the first level, between levels, above the last."""
    return class_colours(quantity, width.statistic, width.count)


def text_on(colour: str) -> str:
    """Black or white, whichever reads better on a colour."""
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return INK if 0.299 * red + 0.587 * green + 0.114 * blue > 0.55 else PAPER


def title(figure: Figure, main: str, sub: str) -> None:
    """Heading at the upper left of the sheet."""
    figure.text(0.05, 0.955, main, size=13, weight="bold", va="top")
    figure.text(0.05, 0.918, sub, size=8.5, color=QUIET, va="top")


def foot(figure: Figure, notes: Sequence[str], caution: str = CAUTION) -> None:
    """Notes, and below them the caution, at the foot of the sheet."""
    wide, tall = figure.get_size_inches()
    lines = wrap(caution, int(13.5 * wide))
    figure.text(
        0.05, 0.025, "\n".join(lines), size=7.2, weight="bold", va="bottom", linespacing=1.3
    )
    above = 0.025 + (0.05 + 0.13 * len(lines)) / tall
    words = [part for n in notes if n for part in wrap(n, int(15.5 * wide))]
    figure.text(0.05, above, "\n".join(words), size=6.8, color=QUIET, va="bottom", linespacing=1.5)
