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
from matplotlib.lines import Line2D
from matplotlib.patheffects import withStroke

from geoprofile.drawing import marks, people
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
from geoprofile.threads import give_back
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
    "title",
    "title_block",
]

if TYPE_CHECKING:
    from geoprofile.drawing.document import Document
    from geoprofile.drawing.levels import Bandwidth

HALO = (withStroke(linewidth=2.2, foreground=PAPER),)
LANDSCAPE_IN = (11.69, 8.27)  # A4 [inch]
PORTRAIT_IN = (8.27, 11.69)
LETTER_IN = (8.5, 11.0)
DPI = 150
TITLE_BLOCK_IN = 0.27  # height of the title block above the edge of the sheet
LEAST_POINTS = 6.0  # smallest letters of a heading
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


def paper_portrait() -> tuple[float, float]:
    """The upright sheet that site.toml asks for [inch]: A4 or US Letter."""
    return LETTER_IN if people.now().paper == "US Letter" else PORTRAIT_IN


def paper_landscape() -> tuple[float, float]:
    """The sheet that site.toml asks for, on its side [inch]."""
    wide, tall = paper_portrait()
    return tall, wide


def on_sheet(figure: Figure, box_in: Sequence[float]) -> tuple[float, float, float, float]:
    """A box that was laid out on A4 across, on the sheet at hand.

    Parameters
    ----------
    figure : Figure
        The sheet, across.
    box_in : sequence of four float [inch]
        Left, bottom, width and height on A4.

    Returns
    -------
    tuple of four float [inch]
        The same shares of the sheet.
    """
    left, bottom, width, height = box_in
    wide, tall = figure.get_size_inches()
    x, y = wide / LANDSCAPE_IN[0], tall / LANDSCAPE_IN[1]
    return left * x, bottom * y, width * x, height * y


@contextmanager
def sheet(size_in: tuple[float, float]) -> Iterator[Figure]:
    """An empty figure of that size [inch] in our look; leaves no global state behind."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)
        figure = Figure(figsize=size_in, dpi=DPI)
        canvas = FigureCanvasAgg(figure)
        try:
            yield figure
        finally:  # figure and canvas hold each other: ten megabytes of pixels would wait for long
            figure.clear()
            vars(canvas).pop("renderer", None)
            give_back()


def save(figure: Figure, path: str | Path, formats: Sequence[str]) -> tuple[Path, ...]:
    """Write the figure once per format; the same drawing gives the same bytes."""
    written = []
    for suffix in formats:
        target = Path(f"{path}.{suffix}")
        target.parent.mkdir(parents=True, exist_ok=True)
        undated = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {"Software": None}}
        with whole_file(target) as beside:
            quick: dict[str, Any] = {"pil_kwargs": {"compress_level": 3}} if suffix == "png" else {}
            figure.savefig(beside, format=suffix, metadata=undated.get(suffix), **quick)
        written.append(target)
    return tuple(written)


# Ground whose shape no data hold: hatched over its colour.
ASSUMED: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": QUIET,
    "linewidth": 0.0,
    "hatch": "oo",
}
ASSUMED_WORDS = marks.ASSUMED_WORDS.replace(": ", ":\n")


def band_colours(width: Bandwidth, quantity: str) -> list[str]:
    """A colour for every band: below the first level, between levels, above the last."""
    return class_colours(quantity, width.statistic, width.count)


def title(figure: Figure, main: str, sub: str) -> None:
    """Heading at the upper left of the sheet, in letters that fit beside the compass."""
    fitted(figure, 0.05, 0.955, main, size=13, weight="bold")
    fitted(figure, 0.05, 0.918, sub, size=8.5, color=QUIET)


def fitted(
    figure: Figure, x: float, y: float, text: str, *, size: float, most: float = 0.8, **look: Any
) -> None:
    """A line of text, smaller where it would be wider than a share of the sheet; then cut."""
    shown = figure.text(x, y, text, size=size, va="top", **look)
    room = most * figure.bbox.width
    while (wide := shown.get_window_extent().width) > room and size > LEAST_POINTS:
        size = max(LEAST_POINTS, 0.995 * size * room / wide)  # widths do not shrink evenly
        shown.set_fontsize(size)
    while shown.get_window_extent().width > room and len(text) > 1:
        text = text[: int(0.95 * len(text))]
        shown.set_text(text.rstrip() + "…")


def foot(
    figure: Figure,
    notes: Sequence[str],
    caution: str = CAUTION,
    *,
    document: Document | None = None,
) -> float:
    """Notes, below them the caution, and the title block at the foot of the sheet.

    Parameters
    ----------
    figure : Figure
        The sheet.
    notes : sequence of str
        Those that are empty are left out.
    caution : str
        In bold.
    document : Document, optional
        The title block.

    Returns
    -------
    float
        Where the highest of them ends [share of the sheet].
    """
    wide, tall = figure.get_size_inches()
    lines = wrap(caution, int(13.5 * wide))
    low = 0.025
    if document is not None:
        low = (TITLE_BLOCK_IN + 0.06) / tall
        title_block(figure, document)
    figure.text(0.05, low, "\n".join(lines), size=7.2, weight="bold", va="bottom", linespacing=1.3)
    above = low + (0.05 + 0.13 * len(lines)) / tall
    words = [part for n in notes if n for part in wrap(n, int(15.5 * wide))]
    text = "\n".join(words)
    told = figure.text(0.05, above, text, size=6.8, color=QUIET, va="bottom", linespacing=1.5)
    return float(told.get_window_extent().y1 / figure.bbox.height) if words else above


def title_block(figure: Figure, document: Document) -> None:
    """The title block in two lines below a rule, at the foot of the sheet."""
    tall = figure.get_size_inches()[1]
    for place, line in enumerate(document.lines):
        y = (TITLE_BLOCK_IN - 0.03 - 0.11 * place) / tall
        fitted(figure, 0.05, y, line, size=6.2, most=0.9, color=INK)
    rule = Line2D((0.05, 0.95), (TITLE_BLOCK_IN / tall,) * 2, color=QUIET, linewidth=0.5)
    rule.set_transform(figure.transFigure)
    figure.add_artist(rule)
