"""Simulated mass flux through the cells of a section and of the planes beside it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.products.discharge.mass_flux import mass_flux, share_across
from geoprofile.products.discharge.transects import Cells, cells_of, interval_means, parallel_planes
from geoprofile.products.section.sections import Section, along

if TYPE_CHECKING:
    from geoprofile.products.discharge.gradients import Gradient
    from geoprofile.products.maps.mapping import MappedField
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
# What nobody met is not carried off: a field that is hardly known has draws far above all results,
# and they, not the middle of the range, would make the sum.
MOST_OF_HIGHEST = 2.0  # [-]


def planes_of(
    site: Site, section: Section, gradient: Gradient, settings: Mapping[str, Any]
) -> list[Cells]:
    """Cells of the drawn plane, and of those beside it that hold water.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, interval, head and area.
    section : Section
        The drawn plane.
    gradient : Gradient
        Its direction is the one along which planes are moved.
    settings : Mapping
        `planes` [-], `plane_spacing_m` [m].

    Returns
    -------
    list of Cells
        The drawn plane first.
    """
    beside = parallel_planes(
        section.plane,
        count=int(settings["planes"]),
        spacing_m=float(settings["plane_spacing_m"]),
        azimuth_deg=gradient.azimuth_deg,
    )[1:]
    others = [cells_of(along(site, section.name, plane)) for plane in beside]
    return [cells_of(section), *(cells for cells in others if len(cells))]


def share_of(cells: Cells, gradient: Gradient) -> float:
    """Share of the flow that crosses the plane.

    Parameters
    ----------
    cells : Cells
        Of the plane.
    gradient : Gradient
        Gives the direction of flow.

    Returns
    -------
    float [-]
        Its sign is the side that the flow comes from: positive from the left.
    """
    return float(np.average(share_across(cells.azimuth, gradient.azimuth_deg), weights=cells.area))


def simulated_fluxes(
    planes: list[Cells],
    fields: Mapping[str, MappedField],
    gradient: Gradient,
    *,
    length_m: float,
    realisations: int,
    rng: np.random.Generator,
) -> dict[str, list[Array]]:
    """Mass flux of every analyte in every cell of every plane, from one joint simulation.

    Parameters
    ----------
    planes : list of Cells
        The drawn one first.
    fields : Mapping of str to MappedField
        K and the analytes.
    gradient : Gradient
        Drawn anew in every realisation.
    length_m : float [m]
        Usual length of an interval.
    realisations : int [-]
        How many.
    rng : Generator
        Source of randomness.

    Returns
    -------
    dict of str to list of Array, shape (realisations, n) [g/(m2 d)]
        By analyte and plane; positive with the flow across the drawn plane.

    Notes
    -----
    No K and no concentration counts for more than twice the highest measured one.
    """
    across = gradient.drawn_across(
        np.concatenate([c.azimuth for c in planes]), realisations=realisations, rng=rng
    )
    across = across * np.sign(share_of(planes[0], gradient))
    ends = np.cumsum([len(c) for c in planes])[:-1]
    points = np.concatenate([c.points for c in planes])
    drawn = {}
    for quantity, field in fields.items():
        found = field.simulate(points, realisations=realisations, rng=rng)
        values = np.log10(np.minimum(found, MOST_OF_HIGHEST * field.highest))
        parts = zip(planes, np.split(values, ends, axis=1), strict=True)
        drawn[quantity] = [interval_means(cells, part, length_m) for cells, part in parts]
    k, gradients = drawn.pop("K"), np.split(across, ends, axis=1)
    return {
        analyte: [mass_flux(*parts) for parts in zip(k, values, gradients, strict=True)]
        for analyte, values in drawn.items()
    }
