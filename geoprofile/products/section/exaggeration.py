"""How many times heights are drawn larger than lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from geoprofile.products.section.sections import Section

    Shape = TypeVar("Shape", bound=BaseGeometry)

EXAGGERATIONS = (1, 1.5, 2, 2.5, 3, 4, 5, 7.5, 10, 15, 20, 25, 50, 100)
SHEET_SHAPE = (2.0, 1.0)  # width and height of the longest section on the sheet [-]


def vertical_exaggeration(length_m: float, height_m: float, *, width: float, room: float) -> float:
    """The largest round exaggeration at which a section fits its box.

    Parameters
    ----------
    length_m, height_m : float [m]
        Extent of the section.
    width, room : float [any one unit]
        Of the box.

    Returns
    -------
    float [-]
        1 or more where it fits, else the fraction that does.

    Examples
    --------
    A section of 400 by 30 m in a box of 8 by 5 inch takes 7.5.
    """
    most = room * length_m / (width * height_m)
    fitting = [v for v in EXAGGERATIONS if v <= most]
    return float(fitting[-1]) if fitting else float(most)


def sheet_exaggeration(sections: list[Section]) -> float:
    """One exaggeration for all sections, at which the longest is half as high as it is long.

    Parameters
    ----------
    sections : list of Section
        On the sheet.

    Returns
    -------
    float [-]
        At least 1.
    """
    if not sections:
        return 1.0
    levels = np.concatenate([np.r_[s.ground[:, 1], s.base[:, 1]] for s in sections])
    height = max(float(np.ptp(levels)), 1.0)
    length = max(s.plane.length_m for s in sections)
    width, room = SHEET_SHAPE
    return max(1.0, vertical_exaggeration(length, height, width=width, room=room))


def stretched(shape: Shape, factor: float) -> Shape:
    """A shape of the section plane with its elevations multiplied.

    Parameters
    ----------
    shape : BaseGeometry
        Distance and elevation [m].
    factor : float [-]
        Exaggeration.

    Returns
    -------
    BaseGeometry
        Of the same kind.
    """
    import shapely

    return shapely.transform(shape, lambda xy: xy * [1.0, factor])
