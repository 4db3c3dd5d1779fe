"""What a profile along a borehole shows, as numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.maps.mapping import latest_fields
from geoprofile.products.maps.measured import results_of, unit_of
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, PER_UG_PER_L, SOIL_GAS

if TYPE_CHECKING:
    from geoprofile.geometry import Path as HolePath
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]

FIELD_POINTS = 200


@dataclass(frozen=True, eq=False)
class Along:
    """A field along the hole at `depth_m` (n,) [m]: median, 10 and 90 % (n,) [unit]."""

    depth_m: Array
    median: Array
    low: Array
    high: Array


@dataclass(frozen=True, eq=False)
class Profile:
    """What a profile shows: depth along the hole [m] and values [unit].

    `rows` hold top_m, bottom_m, value, low, high, limit and grade; `field` is None without one.
    """

    borehole: str
    quantity: str
    round: str | None
    unit: str
    length_m: float
    water_m: float | None
    rows: tuple[dict[str, Any], ...]
    field: Along | None
    criterion: float | None


def profile_of(site: Site, borehole: str, quantity: str) -> Profile:
    """The numbers of a profile.

    Parameters
    ----------
    site : Site
        Tables as for `k_profile`, and concentration.
    borehole : str
        Which one.
    quantity : str
        K, or an analyte.

    Returns
    -------
    Profile
        Depths along the hole [m], values in its unit.

    Raises
    ------
    DataError
        No such borehole.
    """
    paths = paths_of(site)
    if borehole not in paths:
        known = ", ".join(paths) or "none yet"
        raise DataError("profile", f"borehole '{borehole}'", f"one of {known}", "Check the name.")
    hole = paths[borehole]
    spans = site.table("interval").set_index("interval")[["top_m", "bottom_m"]].to_dict("index")
    grades = dict(
        zip(
            site.table("interval_conductivity")["interval"],
            site.table("interval_conductivity")["grade"],
            strict=True,
        )
    )
    rows = tuple(
        {**r, **spans[r["interval"]], "grade": grades.get(r["interval"])}
        for r in results_of(site, quantity)
        if r["borehole"] == borehole
    )
    return _with_field(site, borehole, hole, quantity=quantity, rows=rows)


def _with_field(
    site: Site, borehole: str, hole: HolePath, *, quantity: str, rows: tuple[dict[str, Any], ...]
) -> Profile:
    """The profile with the field along the hole where there is one."""
    unit = unit_of(quantity)
    if unit == GAS_UNIT:
        return _of_gas(site, borehole, hole, quantity, rows)
    field = next((f for f in latest_fields(site, every=True) if f.quantity == quantity), None)
    water = _water_depth(site, borehole)
    depth = np.linspace(0.0, hole.length_m, FIELD_POINTS)
    if quantity != "K" and water is not None:
        depth = depth[depth >= water]
    at = None if field is None else field.at(hole.at(depth))
    return Profile(
        borehole,
        quantity,
        rows[0]["round"] if rows else None,
        unit,
        hole.length_m,
        water,
        rows,
        None if at is None else Along(depth, at.median, at.low, at.high),
        criteria_ug_per_l(site).get(quantity) if field is None else field.criterion,
    )


def _of_gas(
    site: Site, borehole: str, hole: HolePath, quantity: str, rows: tuple[dict[str, Any], ...]
) -> Profile:
    """The profile of a gas, beside the user's criterion for gas."""
    judged = criteria_ug_per_l(site, SOIL_GAS).get(quantity.removesuffix(IN_GAS))
    return Profile(
        borehole,
        quantity,
        rows[0]["round"] if rows else None,
        GAS_UNIT,
        hole.length_m,
        _water_depth(site, borehole),
        rows,
        None,
        None if judged is None else PER_UG_PER_L * judged,
    )


def _water_depth(site: Site, borehole: str) -> float | None:
    """Depth along the hole to the shallowest head of its latest day; None where not known."""
    from geoprofile.products.boreholes.surfaces import shallowest_heads

    heads = site.table("head")
    heads = heads[(heads["borehole"] == borehole) & heads["head_m"].notna()]
    if heads.empty:
        return None
    level = float(shallowest_heads(heads)["head_m"].iloc[0])
    depth = paths_of(site)[borehole].depth_at_elevation(level)
    return None if np.isnan(depth) else depth
