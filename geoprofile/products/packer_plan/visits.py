"""One set-up of a field plan: pressure, pipes, expected K, test, purge volume, notes and times."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from geoprofile import packers
from geoprofile.errors import DataError
from geoprofile.packers import Hole, SetUp, Zone
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.packer_plan.plan import Choices, ExpectedK, Visit

if TYPE_CHECKING:
    from geoprofile.products.model.fitted import Field
    from geoprofile.site import Site


def visit_of(site: Site, hole: Hole, setup: SetUp, name: str, kept: Choices) -> Visit:
    """One set-up with everything but its times.

    Parameters
    ----------
    site : Site
        With the field of K, or without.
    hole : Hole
        The borehole.
    setup : SetUp
        The position.
    name : str
        Name of the interval.
    kept : Choices
        Equipment, pace and margins.

    Returns
    -------
    Visit
        Without steps.
    """
    packer = setup.packer
    diameter = hole.diameter(setup.top_m, setup.bottom_m)
    pipe = packer.pipe_inner_diameter_m or 2.0 * kept.means.riser_radius_m
    means = replace(kept.means, riser_radius_m=pipe / 2.0)
    column = max(hole.vertical(setup.top_m) - (hole.static_depth_m or 0.0), 0.1)
    around = packers.zone_volume(diameter, kept.rod_diameter_m, setup.length_m)
    zone = Zone(setup.length_m, diameter / 2.0, column, around)
    k = expected_k(site, hole.borehole, setup)
    choice = packers.choose_test(
        zone,
        means,
        None if k is None else k.median_m_per_s,
        k_range=() if k is None else (k.low_m_per_s, k.high_m_per_s),
    )
    purge = packers.purge_target(
        around,
        pipe_m3=packers.pipe_volume(pipe, max(setup.top_m - (hole.static_along_m or 0.0), 0.0)),
        invaded_m3=packers.invaded_volume(kept.cross_flow_m3_s, kept.open_s),
    )
    drawdown = min(kept.drawdown_m, column)  # the level stays above the packer element
    rate = None
    if k is not None:
        rate = packers.feasible_rate(
            k.median_m_per_s, setup.length_m, diameter / 2.0, drawdown_m=drawdown
        )
        rate = min(rate, kept.pump_m3_s)
    needed = kept.longest_purge_s if rate is None else purge.time_s(rate)
    inflation = packers.plan_inflation(
        packer,
        hole,
        setup.elements_m[-1][1],
        rules=kept.rules,
        shallowest_m=setup.elements_m[0][0],
    )
    tally = packers.pipe_tally(
        setup.top_m, tool_m=kept.tool_m, pipe_m=kept.pipe_m, short_pipes_m=kept.short_pipes_m
    )
    notes = (
        *stale_k(site),
        *choice.notes,
        *inflation.cautions,
        *packers.caliper_cautions(hole, setup, rules=kept.rules),
        *_purge_notes(needed, kept, drawdown),
    )
    purge_s = min(needed, kept.longest_purge_s)
    return Visit(name, setup, inflation, tally, k, choice, purge, rate, purge_s, (), notes)


def _purge_notes(needed_s: float, kept: Choices, drawdown: float) -> tuple[str, ...]:
    if needed_s <= kept.longest_purge_s:
        return ()
    return (
        f"purging to the target takes about {needed_s / 3600:.0f} h at {drawdown:.1f} m drawdown;"
        f" the plan allows {kept.longest_purge_s / 3600:.0f} h: note what was purged, and say so"
        " with the result",
    )


def expected_k(site: Site, borehole: str, setup: SetUp) -> ExpectedK | None:
    """K expected in a zone from the field of K.

    Parameters
    ----------
    site : Site
        With the field of K, or without.
    borehole : str
        Which.
    setup : SetUp
        The zone.

    Returns
    -------
    ExpectedK or None
        [m/s]; None without a field of K, or where the stored one is of other data.
    """
    field = _field_of_k(site)
    if field is None:
        return None
    middle = paths_of(site)[borehole].at(np.array([0.5 * (setup.top_m + setup.bottom_m)]))
    here = field.at(middle)
    return ExpectedK(float(here.median[0]), float(here.low[0]), float(here.high[0]))


@lru_cache(maxsize=4)
def _field_of_k(site: Site) -> Field | None:
    """The stored field of K, if there is one that fits the tests as they stand."""
    from geoprofile.products.model.fitted import field_of_k

    try:
        return field_of_k(site)
    except DataError:
        return None


def stale_k(site: Site) -> tuple[str, ...]:
    """A note where a field of K is stored that does not fit the tests as they stand."""
    fitted = (site.table("model")["quantity"] == "K").any()
    if not fitted or _field_of_k(site) is not None:
        return ()
    return (
        "tests or boreholes have changed since the field of K was fitted: planned with K unknown; "
        "run geoprofile interpolate and plan again to have it",
    )
