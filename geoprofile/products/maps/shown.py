"""Where the maps of a field show anything, at any elevations: for rasters that obey the maps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from geoprofile.engine import settings_used
from geoprofile.geometry.grids import grid_over
from geoprofile.products.maps.blanks import Limits, blanked
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import bandwidth_of
from geoprofile.products.maps.places import Wanted, places_of

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.drawing.levels import Bandwidth
    from geoprofile.products.maps.mapping import MappedField
    from geoprofile.site import Site


def shown_at(
    site: Site, field: MappedField, elevations: Sequence[float]
) -> tuple[MultiPolygon, ...]:
    """What the map of a field shows at elevations, with the settings that the maps were made with.

    Parameters
    ----------
    site : Site
        Tables as for the layer `map_band`.
    field : MappedField
        What is mapped.
    elevations : sequence of float [m]
        Of the maps.

    Returns
    -------
    tuple of MultiPolygon
        As in `map_band`, without what is in `map_blank`; empty where nothing is shown [m].
    """
    settings = settings_used(site, "map_band")
    domain = domain_of(site)
    grid = grid_over(domain, cell_m=float(settings["cell_m"]))
    limits = Limits(*(float(settings[n]) for n in ("farthest_m", "most_sd", "thinnest_m")))
    wanted = Wanted(elevations_m=list(elevations))
    found = []
    for whole in places_of(site, grid, domain, quantity=field.quantity, wanted=wanted):
        spread = field.at(np.column_stack([grid.nodes, whole.z])).log10_sd
        place, _ = blanked(
            site, field, grid, place=whole, domain=domain, limits=limits, spread=spread
        )
        found.append(place.domain)
    return tuple(found)


def scale_of(site: Site, quantity: str, statistic: str) -> Bandwidth:
    """The classes in which the maps show a statistic of a quantity.

    Parameters
    ----------
    site : Site
        Gives the values that the levels lie round.
    quantity : str
        K, or a substance.
    statistic : str
        median, sd or probability.

    Returns
    -------
    Bandwidth
        Levels [its unit].
    """
    from geoprofile.products.maps.map_band import FIXED_BANDS

    name = "spread" if statistic == "sd" else statistic
    return FIXED_BANDS.get(name) or replace(bandwidth_of(site, quantity), statistic=name)
