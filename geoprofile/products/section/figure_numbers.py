"""What a section figure shows, as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.document import Document, document_of
from geoprofile.drawing.levels import SHOWN_UNITS, Bandwidth
from geoprofile.engine import settings_used
from geoprofile.products.maps.mapping import bandwidth_of, latest_fields
from geoprofile.products.maps.measured import results_of
from geoprofile.products.section.gas_slices import slice_gas
from geoprofile.products.section.lines import line_names, plane_of
from geoprofile.products.section.logs import (
    Contact,
    Piece,
    Proposal,
    contacts_of,
    logged_units,
    pieces_of,
    proposals_of,
)
from geoprofile.products.section.sections import Section, section_of
from geoprofile.products.section.slices import Slice, slice_field
from geoprofile.schema.soil_gas import IN_GAS, SOIL_GAS

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Drawing:
    """All that a section figure shows, as numbers."""

    section: Section
    quantity: str
    round: str | None
    unit: str
    slice: Slice | None
    bandwidth: Bandwidth
    rows: tuple[dict[str, Any], ...]
    crossings: tuple[tuple[float, str], ...]
    dates: str
    vertical_datum: str
    uncertain_sd: float
    pieces: tuple[Piece, ...] = ()
    proposals: tuple[Proposal, ...] = ()
    contacts: tuple[Contact, ...] = ()
    document: Document | None = None
    logged: tuple[str, ...] = ()  # every unit of the site, from the youngest to the oldest

    @property
    def unit_shown(self) -> str:
        """The unit as people write it."""
        return SHOWN_UNITS.get(self.unit, self.unit)


def section_drawing(site: Site, name: str, quantity: str) -> Drawing:
    """The numbers of a section figure.

    Parameters
    ----------
    site : Site
        Tables as for the layer `section`.
    name : str
        Of the section line.
    quantity : str
        K, or an analyte.

    Returns
    -------
    Drawing
        Distances and elevations [m], values [unit of the drawing].
    """
    width = float(settings_used(site, "section")["band_width_m"])
    section = section_of(site, name, band_width_m=width)
    return drawing_of(site, section, quantity)


def drawing_of(site: Site, section: Section, quantity: str) -> Drawing:
    """The numbers of a figure of any section.

    Parameters
    ----------
    site : Site
        Tables as for the layer `section`.
    section : Section
        Along a line of the site, through boreholes or along the flow.
    quantity : str
        K, or an analyte.

    Returns
    -------
    Drawing
        Distances and elevations [m], values [unit of the drawing].
    """
    cut, width = _cut(site, section, quantity)
    shown = {one.interval for one in section.intervals}
    rows = tuple(r for r in results_of(site, quantity) if r["interval"] in shown)
    return Drawing(
        section,
        quantity,
        rows[0]["round"] if rows else None,
        width.unit,
        cut,
        width,
        rows,
        _crossings(site, section),
        _dates(site, quantity, rows),
        site.vertical_datum,
        float(settings_used(site, "section")["uncertain_sd"]),
        pieces_of(site, section),
        proposals_of(site, section),
        contacts_of(site, section),
        document_of(site),
        logged_units(site),
    )


def _cut(site: Site, section: Section, quantity: str) -> tuple[Slice | None, Bandwidth]:
    """The field in the plane, None where there is none, and its bands."""
    if quantity.endswith(IN_GAS):
        from geoprofile.products.soil_gas.fitted import fitted_gas

        gas = next((g for g in fitted_gas(site) if g.quantity == quantity), None)
        if gas is not None:
            return slice_gas(site, section, gas), gas.scale("median")
    field = next((f for f in latest_fields(site) if f.quantity == quantity), None)
    return (
        None if field is None else slice_field(section, field),
        bandwidth_of(site, quantity),
    )


def _crossings(site: Site, section: Section) -> tuple[tuple[float, str], ...]:
    """Where other sections cross this one."""
    from geoprofile.errors import DataError

    found = []
    for name in line_names(site):
        if name == section.name:
            continue
        try:
            other = plane_of(site, name)
        except DataError:
            continue
        found += [(float(s), name) for s, _ in section.plane.crossings(other)]
    return tuple(sorted(found))


def _dates(site: Site, quantity: str, rows: Sequence[dict[str, Any]]) -> str:
    """First and last day of the samples shown; nothing for K."""
    if quantity == "K" or not rows:
        return ""
    table = site.table("concentration")
    medium = SOIL_GAS if quantity.endswith(IN_GAS) else "water"
    same = (table["medium"] == medium) & (table["analyte"] == quantity.removesuffix(IN_GAS))
    used = table[same & (table["round"] == rows[0]["round"])]
    days = sorted({str(t)[:10] for t in used["sampled_at"].dropna()})
    if not days:
        return ""
    return f"sampled {days[0]}" + (f" to {days[-1]}" if days[-1] != days[0] else "")
