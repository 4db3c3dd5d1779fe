"""What the crew needs for a proposed set-up: pressure, expected K, time, purge, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.packers import (
    SetUp,
    caliper_cautions,
    feasible_rate,
    pipe_volume,
    plan_inflation,
    purge_target,
    time_lag,
    time_to,
    zone_volume,
)
from geoprofile.packers.cautions import cautions
from geoprofile.packers.ranges import USABLE
from geoprofile.products.advice.search import Array, K, Search
from geoprofile.products.model.fitted import field_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def field_work(
    setup: SetUp, search: Search, k: float | None, settings: Mapping[str, Any]
) -> dict[str, Any]:
    """What the crew needs for a set-up: equipment, pressure, expected K, time, purge, cautions.

    Parameters
    ----------
    setup : SetUp
        The position.
    search : Search
        Holes and rules.
    k : float or None [m/s]
        Expected there.
    settings : Mapping
        `riser_diameter_mm`, `drawdown_m`.

    Returns
    -------
    dict
        Columns of the table `next_test`.
    """
    hole = search.holes[setup.borehole]
    packer = setup.packer
    diameter = hole.diameter(setup.top_m, setup.bottom_m)
    pipe = packer.pipe_inner_diameter_m or float(settings["riser_diameter_mm"]) / 1e3
    line = max(setup.top_m - (hole.static_along_m or 0.0), 0.0)
    purge = purge_target(
        zone_volume(diameter, 0.0, setup.length_m), pipe_m3=pipe_volume(pipe, line)
    )
    lag = None if k is None else time_lag(k, pipe / 2, setup.length_m, diameter / 2)
    hours = None
    if k is not None:
        drawdown = float(settings["drawdown_m"])
        rate = feasible_rate(k, setup.length_m, diameter / 2, drawdown_m=drawdown)
        hours = purge.time_s(rate) / 3600
    inflation = plan_inflation(packer, hole, setup.elements_m[-1][1], rules=search.rules)
    wall = caliper_cautions(hole, setup, rules=search.rules)
    return {
        "packer": packer.packer,
        "spacer": None if setup.spacer is None else setup.spacer.spacer,
        "inflation_kpa": round(setup.gauge_pressure_pa / 1e3, 1),
        "expected_k_m_per_s": k,
        "expected_duration_s": None if lag is None else time_to(USABLE, lag),
        "purge_l": round(1e3 * purge.total_m3, 1),
        "cautions": cautions(
            limit_kpa=packer.max_inflation_pa / 1e3,
            purge_h=hours,
            extra=(*inflation.cautions, *wall),
        ),
    }


def expected_k(site: Site, centres: Array) -> list[float | None]:
    """Median of K at some places.

    Parameters
    ----------
    site : Site
        With the field of K, if there is one.
    centres : Array, shape (n, 3) [m]
        The places.

    Returns
    -------
    list of float or None [m/s]
        None without a field of K.
    """
    if not len(centres) or not (site.table("model")["quantity"] == K).any():
        return [None] * len(centres)
    return [float(k) for k in field_of(site, K).at(centres).median]
