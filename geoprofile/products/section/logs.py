"""What was drilled and what is proposed, in the plane of a section: logs, casings, next tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.symbols import stratigraphic
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.units.inputs import unit_surfaces
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.products.section.sections import Section
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
MOST_TESTS, MOST_HOLES = 5, 3  # ranks that are shown


@dataclass(frozen=True, eq=False)
class Piece:
    """A part of a hole: `table` lithology or construction, `name` of the unit or of what is built.

    `line` (k, 2) [m] is distance along the section and elevation.
    """

    table: str
    borehole: str
    name: str
    line: Array


@dataclass(frozen=True, eq=False)
class Proposal:
    """A proposed test, or a proposed borehole as a whole, with its rank.

    `line` (k, 2) [m] is distance along the section and elevation.
    """

    table: str
    rank: int
    line: Array


@dataclass(frozen=True, eq=False)
class Contact:
    """The top of a hydrostratigraphic unit; `line` (k, 2) [m], one unbroken run of it."""

    unit: str
    line: Array


def logged_units(site: Site) -> tuple[str, ...]:
    """Every unit that was logged at the site, from the youngest to the oldest.

    Parameters
    ----------
    site : Site
        Table lithology.

    Returns
    -------
    tuple of str
        One list for all drawings, so that a unit looks the same in each.
    """
    rows = records_of(site.table("lithology"))
    return tuple(
        stratigraphic(
            (str(r["unit"]), str(r["borehole"]), float(r["top_m"]))
            for r in rows
            if r["unit"] is not None and r["top_m"] is not None
        )
    )


def pieces_of(site: Site, section: Section) -> tuple[Piece, ...]:
    """Logs and construction of the holes that a section shows.

    Parameters
    ----------
    site : Site
        Tables lithology, construction, borehole and survey.
    section : Section
        Which holes, and where [m].

    Returns
    -------
    tuple of Piece
        Cut at the end of the hole; none where nothing was logged.
    """
    shown = {hole.borehole for hole in section.holes}
    paths = {name: path for name, path in paths_of(site).items() if name in shown}
    found = []
    for table, column in (("lithology", "unit"), ("construction", "kind")):
        for row in records_of(site.table(table)):
            path = paths.get(row["borehole"])
            if path is None or row["top_m"] >= path.length_m:
                continue
            line = path.line(row["top_m"], min(row["bottom_m"], path.length_m))
            s, z, _ = section.plane.to_section(line)
            name = str(row[column]).strip()
            found.append(Piece(table, str(row["borehole"]), name, np.column_stack([s, z])))
    return tuple(found)


def proposals_of(site: Site, section: Section) -> tuple[Proposal, ...]:
    """The best proposed tests in the holes shown, and proposed boreholes within the band.

    Parameters
    ----------
    site : Site
        Tables next_test and next_borehole.
    section : Section
        Which holes, and where [m].

    Returns
    -------
    tuple of Proposal
        Of the first ranks only.
    """
    shown = {hole.borehole for hole in section.holes}
    tests, holes = (
        [row for row in records_of(site.table(table)) if row["rank"] <= most]
        for table, most in (("next_test", MOST_TESTS), ("next_borehole", MOST_HOLES))
    )
    found = []
    for row in tests:
        if row["borehole"] in shown:
            s, z, _ = section.plane.to_section(np.array(row["geometry"].coords))
            found.append(Proposal("next_test", row["rank"], np.column_stack([s, z])))
    for row in holes:
        s, z, offset = section.plane.to_section(np.array(row["geometry"].coords))
        inside = 0 <= s[0] <= section.plane.length_m
        if inside and abs(offset[0]) <= section.band_width_m:
            line = np.array([[s[0], z[0]], [s[0], z[0] - row["depth_m"]]])
            found.append(Proposal("next_borehole", row["rank"], line))
    return tuple(found)


def contacts_of(site: Site, section: Section) -> tuple[Contact, ...]:
    """Where the surfaces between hydrostratigraphic units cut the plane.

    Parameters
    ----------
    site : Site
        Tables hydro_unit, borehole and survey.
    section : Section
        Where, and its ground and bottoms of the holes [m].

    Returns
    -------
    tuple of Contact
        Tops of all units but the uppermost, where the unit is present and was drilled; none where
        no units are correlated between boreholes.
    """
    surfaces = unit_surfaces(site)
    if surfaces is None:
        return ()
    s, base = section.base.T
    xy = section.plane.to_map(s, base)[:, :2]
    tops, bases = surfaces.tops(xy), surfaces.bases(xy)
    found = []
    for k, name in enumerate(surfaces.names[1:], start=1):
        seen = (tops[:, k] > base) & (tops[:, k] > bases[:, k])
        edges = np.flatnonzero(np.diff(np.r_[False, seen, False]))
        for start, end in edges.reshape(-1, 2):
            if end - start > 1:
                line = np.column_stack([s[start:end], tops[start:end, k]])
                found.append(Contact(name, line))
    return tuple(found)
