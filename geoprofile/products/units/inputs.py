"""Hydrostratigraphic units: from the logs of boreholes to surfaces between units, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.linear_surface import Cones
from geoprofile.kept_while import made_of
from geoprofile.kriging.covariance.strata import Strata
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class UnitSurfaces:
    """The units of a site from top to bottom, and the surfaces between them.

    `names` (u,) are the units that some borehole meets; `bottom` is the surface through the ends of
    the holes, below which nothing is known.
    """

    names: tuple[str, ...]
    strata: Strata
    bottom: Cones

    def tops(self, xy: Array) -> Array:
        """Elevation of the top of every unit.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            x, y.

        Returns
        -------
        Array, shape (n, u) [m]
            Equal to the next where a unit is absent.
        """
        return self.strata.tops(xy)

    def bases(self, xy: Array) -> Array:
        """Elevation of the base of every unit; of the last one, the ends of the holes.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            x, y.

        Returns
        -------
        Array, shape (n, u) [m]
            Never above the top.
        """
        tops = self.tops(xy)
        last = np.minimum(self.bottom.at(xy), tops[:, -1])
        return np.column_stack([tops[:, 1:], last])

    def thickness(self, xy: Array) -> Array:
        """Thickness of every unit.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            x, y.

        Returns
        -------
        Array, shape (n, u) [m]
            0 where a unit is absent.
        """
        return np.asarray(self.tops(xy) - self.bases(xy))

    def number(self, xyz: Array) -> NDArray[np.int64]:
        """Unit of every place, as a position in `names`.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            x, y, elevation.

        Returns
        -------
        Array of int, shape (n,) [-]
            From 0, the uppermost.
        """
        return self.strata.number(xyz)


@made_of("hydro_unit", "borehole", "survey", most=4)
def unit_surfaces(site: Site) -> UnitSurfaces | None:
    """The surfaces between the units that the layer `geology` found in the boreholes.

    Notes
    -----
    A contact passes through where the boreholes meet it. A borehole that lacks a unit meets its two
    contacts at one place. A borehole that ends above a contact gets it from the thicknesses of the
    units in the others, and never above its own end, so that a shallow hole neither pulls the
    contact up nor lets a unit be thinner than was drilled.
    """
    rows = records_of(site.table("hydro_unit"))
    names = [name for _, name in sorted({(r["unit_number"], r["hydro_unit"]) for r in rows})]
    if len(names) < 2:
        return None
    holes = _met(rows, names)
    collars = site.table("borehole")[["x", "y", "ground_elevation_m"]].to_numpy(np.float64)
    ends = np.vstack([path.at([path.length_m])[0] for path in paths_of(site).values()])
    places = _contacts(holes, len(names))
    return UnitSurfaces(
        tuple(names),
        Strata(
            Cones.through(collars[:, :2], collars[:, 2]),
            tuple(Cones.through(xyz[:, :2], xyz[:, 2]) for xyz in places),
        ),
        Cones.through(ends[:, :2], ends[:, 2]),
    )


@dataclass(frozen=True, eq=False)
class _Log:
    """What one borehole says: `met` (k, 3) [m] the contacts it meets, `end` (3,) [m] of its log.

    `start` (3,) [m] is where the log begins; contacts beyond the k-th lie below the end.
    """

    start: Array
    met: Array
    end: Array


def _met(rows: Sequence[Mapping[str, Any]], names: Sequence[str]) -> list[_Log]:
    """The contacts of every borehole, in their order."""
    import shapely

    logs: dict[str, list[tuple[int, Array]]] = {}
    for row in rows:
        line = shapely.get_coordinates(row["geometry"], include_z=True)
        logs.setdefault(row["borehole"], []).append((names.index(row["hydro_unit"]), line))
    found = []
    for parts in logs.values():
        parts.sort(key=lambda part: part[0])
        start, last = parts[0][1][0], parts[-1][0]
        # a contact lies at the end of the deepest unit met above it, else where the log begins
        ends = [[line[-1] for number, line in parts if number <= k] for k in range(last)]
        met = np.array([above[-1] if above else start for above in ends]).reshape(-1, 3)
        found.append(_Log(start, met, parts[-1][1][-1]))
    return found


def _contacts(logs: Sequence[_Log], units: int) -> list[Array]:
    """Points of every contact, of all boreholes, shape (holes, 3) [m] each."""
    above = np.array([log.start for log in logs])
    found = []
    for k in range(units - 1):
        known = np.array([len(log.met) > k for log in logs])
        here = np.array([log.met[k] if len(log.met) > k else log.end for log in logs])
        thick = Cones.through(here[known, :2], (above - here)[known, 2])
        guess = above[:, 2] - thick.held(here[:, :2])
        here[~known, 2] = np.minimum(guess, here[:, 2])[~known]
        found.append(here)
        above = here
    return found
