"""The price of a piece of work, asked before anything is allocated: cells, levels, draws and data.

A slip in one setting (0.01 for 10) must end in a sentence, not in a machine without memory.
"""

from __future__ import annotations

import math
from contextvars import ContextVar

from geoprofile.errors import UsageError

# [-] numbers held at once: a few copies of 8 bytes each stay below 1 GiB
CELLS, DRAWN = 2e6, 2e7
MATRIX = 1.3e8  # [-] covariances of all data with each other, held once
LARGE = 100.0  # [-] how many times as much is done when the user says that it is meant
_FACTOR: ContextVar[float] = ContextVar("budget", default=1.0)


def allow_large_work() -> None:
    """A hundred times as much is done from here on."""
    _FACTOR.set(LARGE)


def factor() -> float:
    """How many times as much as usual is done at present [-]."""
    return _FACTOR.get()


def allow(factor: float) -> None:
    """So many times as much is done from here on [-]: as much as another process allows."""
    _FACTOR.set(factor)


def afford_cells(width_m: float, height_m: float, cell_m: float) -> None:
    """Refuse a grid with too many cells.

    Parameters
    ----------
    width_m, height_m : float [m]
        Sides of what is to be covered.
    cell_m : float [m]
        Width of a cell.

    Raises
    ------
    UsageError
        With the number of cells and the least width that is done.
    """
    most = CELLS * _FACTOR.get()
    sides = (width_m, height_m, cell_m)
    count = (width_m / cell_m + 3) * (height_m / cell_m + 3) if cell_m > 0 else math.inf
    if all(map(math.isfinite, sides)) and count <= most:
        return
    if not math.isfinite(width_m) or not math.isfinite(height_m):
        least = "none for an area without end"
    else:
        least = f"{_rounded_up(math.sqrt(width_m * height_m / most) * 1.01):g} m"
    raise UsageError(
        f"cells of {cell_m:g} m over {width_m:.4g} x {height_m:.4g} m",
        f"{count:.3g} cells",
        f"at most {most:.3g}; the least width that fits is {least}",
        "Ask for larger cells or a smaller area, or add --yes-large if you mean it.",
    )


def afford_draws(places: int, draws: int) -> None:
    """Refuse too many numbers drawn at random.

    Parameters
    ----------
    places : int [-]
        Places at which a field is drawn.
    draws : int [-]
        Fields drawn.

    Raises
    ------
    UsageError
        With the number and the most draws that are done.
    """
    most = DRAWN * _FACTOR.get()
    if places * draws <= most:
        return
    raise UsageError(
        f"{draws:.4g} simulated fields at {places} places",
        f"{float(places) * draws:.3g} numbers",
        f"at most {most:.3g}; {int(most // max(places, 1))} fields fit",
        "Ask for fewer realisations or larger cells, or add --yes-large if you mean it.",
    )


def afford_levels(nodes: int, levels: int) -> None:
    """Refuse maps at too many levels.

    Parameters
    ----------
    nodes : int [-]
        Nodes of the grid of one map.
    levels : int [-]
        Elevations, depths and units that are mapped.

    Raises
    ------
    UsageError
        With the number of nodes in all and the most levels that are done.
    """
    most = DRAWN * _FACTOR.get()
    if float(nodes) * levels <= most:
        return
    raise UsageError(
        f"{levels} levels of {nodes} nodes",
        f"{float(nodes) * levels:.3g} nodes",
        f"at most {most:.3g}; {int(most // max(nodes, 1))} levels fit",
        "Ask for fewer levels or larger cells, or add --yes-large if you mean it.",
    )


def afford_data(data: int, what: str) -> None:
    """Refuse a field from so many data that their covariances do not fit into memory.

    Parameters
    ----------
    data : int [-]
        Data of one field, each of which is held against every other.
    what : str
        The field in words.

    Raises
    ------
    UsageError
        With the number of covariances and the most data that are taken.
    """
    most = MATRIX * _FACTOR.get()
    if float(data) ** 2 <= most:
        return
    raise UsageError(
        f"{what} from {data} data",
        f"{float(data) ** 2:.3g} covariances",
        f"at most {most:.3g}; {math.isqrt(int(most))} data fit",
        "Split the site, or thin out data that stand close, or add --yes-large if you mean it.",
    )


def _rounded_up(value: float) -> float:
    """Two digits, upwards."""
    if value <= 0:
        return value
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value / step) * step
