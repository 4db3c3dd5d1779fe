"""What a vertical section holds, as numbers: holes, intervals, surfaces and fields in its plane."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry import SectionPlane
from geoprofile.geometry.contours import polygons
from geoprofile.products.boreholes.inputs import interval_lines, paths_of
from geoprofile.products.boreholes.surfaces import bottoms_of, ground_of, water_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.section.lines import plane_of

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BAND_SHARE = 0.06  # of the extent of the collars, for the width of the band [-]
MOST_NAMED = 4  # boreholes in a note
TRACE_POINTS = 201  # along ground, water level and bottoms


@dataclass(frozen=True, eq=False)
class SectionHole:
    """A projected hole: `line` (k, 2) [m] distance and elevation; `projection_m` [m] at most."""

    borehole: str
    line: Array
    projection_m: float


@dataclass(frozen=True, eq=False)
class SectionInterval:
    """A projected interval: `line` (k, 2) [m]; `projection_m` [m] at its middle."""

    interval: str
    borehole: str
    line: Array
    projection_m: float


@dataclass(frozen=True, eq=False)
class Section:
    """A section and what lies in or near it; distance along the line and elevation, both [m].

    `ground`, `base` and `water` (m, 2) are surfaces cut by the plane, `water` None where no head
    is known; `domain` is the part of the plane between ground and bottoms of holes, inside the
    site, and `wet` its part below the water level (all of it where no head is known);
    `band_width_m` [m] is how far holes are projected at most.
    """

    name: str
    plane: SectionPlane
    band_width_m: float
    holes: tuple[SectionHole, ...]
    intervals: tuple[SectionInterval, ...]
    ground: Array
    base: Array
    water: Array | None
    water_notes: str
    domain: MultiPolygon
    wet: MultiPolygon
    notes: tuple[str, ...] = field(default=())

    def part(self, quantity: str) -> MultiPolygon:
        """Where a quantity is shown: K down from the ground, concentrations from the water level.

        Parameters
        ----------
        quantity : str
            K, or an analyte.

        Returns
        -------
        MultiPolygon
            Part of the plane [m].
        """
        return self.domain if quantity == "K" else self.wet


def band_width_of(site: Site, wanted_m: float = 0.0) -> float:
    """How far holes are projected onto a section.

    Parameters
    ----------
    site : Site
        Its table `borehole` is read.
    wanted_m : float [m]
        0 takes 6 % of the extent of the collars.

    Returns
    -------
    float [m]
        Width to either side.
    """
    xy = site.table("borehole")[["x", "y"]].to_numpy(np.float64)
    if wanted_m > 0 or len(xy) == 0:
        return wanted_m
    reach = float(np.hypot(*np.ptp(xy, axis=0)))
    return float(f"{max(BAND_SHARE * reach, 1.0):.2g}")


def section_of(site: Site, name: str, *, band_width_m: float = 0.0) -> Section:
    """A section along one of the site's lines.

    Parameters
    ----------
    site : Site
        Tables section_line, borehole, survey, interval, head and area are read.
    name : str
        Of the line.
    band_width_m : float [m]
        How far holes are projected at most; 0 takes 6 % of the extent of the collars.

    Returns
    -------
    Section
        Geometry without values [m].

    Raises
    ------
    DataError
        No such line, a line of one point or of several parts.
    """
    return along(site, name, plane_of(site, name), band_width_m=band_width_m)


def along(site: Site, name: str, plane: SectionPlane, *, band_width_m: float = 0.0) -> Section:
    """A section along any plane, drawn by the user or not.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, interval, head and area are read.
    name : str
        What to call it.
    plane : SectionPlane
        Where it lies [m].
    band_width_m : float [m]
        How far holes are projected at most; 0 takes 6 % of the extent of the collars.

    Returns
    -------
    Section
        Geometry without values [m].
    """
    width = band_width_of(site, band_width_m)
    holes, kept = _holes(site, plane, width)
    s = np.linspace(0.0, plane.length_m, TRACE_POINTS)
    s = np.unique(np.concatenate([s, plane.bends]))
    xy = plane.to_map(s, np.zeros(len(s)))[:, :2]
    ground = ground_of(site).at(xy)
    base = np.minimum(bottoms_of(site).at(xy), ground)
    water = water_of(site)
    level = None if water is None else np.minimum(water.at(xy), ground)
    domain = part_between(site, plane, s, top=ground, base=base)
    intervals, far = _intervals(site, plane, kept, width)
    wet = domain if level is None else part_between(site, plane, s, top=level, base=base)
    return Section(
        name,
        plane,
        width,
        holes,
        intervals,
        np.column_stack([s, ground]),
        np.column_stack([s, base]),
        None if level is None else np.column_stack([s, level]),
        "" if water is None else water.notes,
        domain,
        wet,
        (*_notes(plane, holes, domain, width), *_left_out(far, width)),
    )


def _holes(
    site: Site, plane: SectionPlane, width: float
) -> tuple[tuple[SectionHole, ...], set[str]]:
    """Holes that pass the plane within the band, between its ends."""
    found = []
    for name, path in paths_of(site).items():
        s, z, offset = plane.to_section(path.line(0.0, path.length_m))
        past = np.maximum(np.maximum(-s, s - plane.length_m), 0.0)
        if np.min(np.hypot(past, offset)) > width:
            continue
        reach = float(np.max(np.abs(offset)))
        found.append(SectionHole(name, np.column_stack([s, z]), reach))
    found.sort(key=lambda hole: float(hole.line[0, 0]))
    return tuple(found), {hole.borehole for hole in found}


def _intervals(
    site: Site, plane: SectionPlane, kept: set[str], width: float
) -> tuple[tuple[SectionInterval, ...], Counter[str]]:
    """Intervals of the holes that are shown, as far as they lie within the band; and how many of
    which hole lie farther.
    """
    lines = interval_lines(site)
    found, far = [], Counter[str]()
    for row in site.table("interval")[["interval", "borehole"]].astype(str).to_numpy():
        interval, borehole = str(row[0]), str(row[1])
        if borehole not in kept:
            continue
        line = lines[interval]
        s, z, offset = plane.to_section(line)
        middle = abs(float(np.mean(offset[[0, -1]])))
        if middle > width:
            far[borehole] += 1
            continue
        found.append(SectionInterval(interval, borehole, np.column_stack([s, z]), middle))
    return tuple(found), far


def part_between(
    site: Site, plane: SectionPlane, s: Array, *, top: Array, base: Array
) -> MultiPolygon:
    """The part of a plane between two surfaces, where the line runs inside the site.

    Parameters
    ----------
    site : Site
        Gives the area.
    plane : SectionPlane
        Where it lies [m].
    s : Array, shape (m,) [m]
        Distance along the line.
    top, base : Array, shape (m,) [m]
        Elevations; a base above the top leaves no room.

    Returns
    -------
    MultiPolygon
        In the plane [m]; may be empty.
    """
    base = np.minimum(base, top)
    import shapely

    outline = np.vstack([np.column_stack([s, top]), np.column_stack([s, base])[::-1]])
    between = polygons(shapely.Polygon(outline))
    area = domain_of(site)
    low, high = float(base.min()) - 1.0, float(top.max()) + 1.0
    strips = []
    for start, end in zip(plane.bends[:-1], plane.bends[1:], strict=True):
        piece = shapely.LineString(plane.to_map([start, end], [0.0, 0.0])[:, :2])
        inside = piece.intersection(area)
        for part in getattr(inside, "geoms", [inside]):
            if part.geom_type != "LineString" or part.is_empty:
                continue
            ends = [start + piece.project(shapely.Point(c)) for c in part.coords]
            strips.append(shapely.box(min(ends), low, max(ends), high))
    if not strips:
        return shapely.MultiPolygon()
    return polygons(between.intersection(shapely.union_all(strips)))


def _notes(
    plane: SectionPlane, holes: tuple[SectionHole, ...], domain: MultiPolygon, width: float
) -> tuple[str, ...]:
    """What the reader must know about where the line lies."""
    import shapely

    notes = []
    if domain.is_empty:
        notes.append("the line lies outside the site area: no field is drawn on it")
    if not holes:
        notes.append(f"no borehole within {width:g} m of the line")
    if not shapely.LineString(plane.xy).is_simple:
        notes.append("the line crosses itself: boreholes there go to the nearest piece only")
    return tuple(notes)


def _left_out(far: Counter[str], width: float) -> tuple[str, ...]:
    """That parts of holes shown are not: else they look untested."""
    if not far:
        return ()
    named = ", ".join(f"{count} of {borehole}" for borehole, count in far.most_common(MOST_NAMED))
    more = "" if len(far) <= MOST_NAMED else f", and of {len(far) - MOST_NAMED} more boreholes"
    return (f"intervals farther than {width:g} m from the line are left out: {named}{more}",)
