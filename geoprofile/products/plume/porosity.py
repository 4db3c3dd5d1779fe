"""Share of the ground that is water: one value for the site, or one per unit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.products.units.inputs import unit_surfaces

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
MOST = 0.9  # [-]


def porosity_at(site: Site, points: Array, *, everywhere: float, by_unit: Sequence[str]) -> Array:
    """Porosity at points below ground.

    Parameters
    ----------
    site : Site
        Its units, where they are correlated between boreholes.
    points : Array, shape (n, 3) [m]
        Easting, northing, elevation.
    everywhere : float [-]
        Of the site, and of units that are not named; 0 where it is not known.
    by_unit : sequence of str
        Texts such as "sand=0.3".

    Returns
    -------
    Array, shape (n,) [-]
        0 where it is not known.

    Raises
    ------
    UsageError
        A text that is none, a porosity out of bounds, or a unit that no borehole meets.
    """
    found = np.full(len(points), everywhere)
    known = dict(_parsed(text) for text in by_unit)
    if not known:
        return found
    surfaces = unit_surfaces(site)
    names = () if surfaces is None else surfaces.names
    for name in known:
        if name not in names:
            raise _refused(
                f"unit '{name}'",
                f"one of {', '.join(names)}" if names else "units correlated between boreholes",
            )
    if surfaces is not None:
        number = surfaces.number(points)
        for name, value in known.items():
            found[number == names.index(name)] = value
    return found


def _parsed(text: str) -> tuple[str, float]:
    """Unit and porosity of one text."""
    name, _, value = text.rpartition("=")
    try:
        porosity = float(value)
    except ValueError:
        porosity = np.nan
    if not name.strip() or not 0.0 < porosity <= MOST:
        raise _refused(f"'{text}'", f"a text such as 'sand=0.3', above 0 and up to {MOST:g}")
    return name.strip(), porosity


def _refused(what: str, expected: str) -> UsageError:
    return UsageError(
        "plume_extent unit_porosities", what, expected, "Correct it under [plume_extent]."
    )
