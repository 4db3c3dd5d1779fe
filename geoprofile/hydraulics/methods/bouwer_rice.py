"""Straight-line method under a water table that does not move."""

from __future__ import annotations

import dataclasses
import math

from geoprofile.errors import DataError
from geoprofile.hydraulics.pack import draining_pack
from geoprofile.hydraulics.quality import worst
from geoprofile.hydraulics.shapes import bouwer_rice_log_ratio
from geoprofile.hydraulics.situation import (
    below_water_m,
    crosses_water_table,
    is_open_end,
    length_in_water,
    refuse_open_end,
    saturated_m,
)
from geoprofile.hydraulics.straight import Formula, straight_line
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "bouwer-rice"
WINDOW = (0.30, 0.20)  # [-] Butler (1998), from memory
BIAS_LN = -0.22  # [-] K comes out some 20 % low against potential theory; own derivation
CROSSING_BIAS_LN, CROSSING_SD_LN = 0.02, 0.05  # [-] against finite volumes with a draining pack
METHOD_SD_LN = 0.10  # [-] spread of that bias over geometries; own derivation


def _log_ratio(test: HydraulicTest) -> float:
    refuse_open_end(test)
    depth = below_water_m(test)
    if depth is None:
        raise DataError(
            test.where,
            "no static level or no depths",
            "static level, top and bottom",
            "Give static_depth_m, or choose hvorslev.",
        )
    try:
        return bouwer_rice_log_ratio(
            length_in_water(test),
            test.hole_radius_m,
            below_water=depth,
            saturated=saturated_m(test),
            kv_kh=test.kv_kh,
        )
    except ValueError as fault:
        raise DataError(
            test.where,
            f"an interval that ends {depth:g} m below the static level",
            "more than one hole radius below it",
            "Choose another method or exclude the test.",
        ) from fault


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval lies under a water table."""
    depth = below_water_m(test)
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if test.confined:
        return Applicability(False, 0.0, "the aquifer is confined: there is no water table")
    if depth is None:
        return Applicability(False, 0.0, "the static level or the depths are unknown")
    if is_open_end(test) or depth <= test.hole_radius_m * math.sqrt(test.kv_kh):
        return Applicability(False, 0.0, "the interval hardly reaches below the water table")
    if crosses_water_table(test):
        if test.kind == "falling head":
            reason = "the static level lies within the interval: only rising heads may be used"
            return Applicability(False, 0.0, reason)
        return Applicability(True, 0.65, "the static level lies within the interval")
    if depth > 5.0 * test.interval_length_m:
        return Applicability(True, 0.40, "the water table is far above the interval")
    return Applicability(True, 0.55, "an interval near the water table")


def run(test: HydraulicTest) -> Conductivity:
    """K = rc^2 ln(Re/rw) / (2 Le T0).

    Raises
    ------
    DataError
        Bad input, an underdamped level, no static level, or no line.

    References
    ----------
    Bouwer and Rice (1976); Bouwer (1989); from memory.
    """
    notes = ["the formula is known to give K some 20 % low; the bounds allow for it"]
    pack = draining_pack(test)
    bias, spread = BIAS_LN, METHOD_SD_LN
    if crosses_water_table(test):  # the formula was made for that
        bias, spread = CROSSING_BIAS_LN, CROSSING_SD_LN
        notes = []
    if pack is not None:
        notes.append(pack.words)
        test = pack.applied_to(test)
    formula = Formula(
        NAME,
        _log_ratio(test),
        length_in_water(test),
        WINDOW,
        spread,
        bias,
        tuple(notes),
        () if pack is None else (pack.part,),
        1.0 if pack is None else pack.level_share,
    )
    found = straight_line(test, formula)
    if pack is not None and not pack.told:
        found = dataclasses.replace(found, grade=worst(found.grade, "qualified"))
    return found


def example(k: float) -> HydraulicTest:
    """A clean rising head under a water table in ground without a known base.

    Notes
    -----
    P worked by hand: Le/rw = 62.5, A = 3.388, B = 0.5486 (polynomials of Van Rooy, 1988, from
    memory), Lw/rw = 229.2, so 1/P = 1.1/5.4346 + (3.388 + 6 x 0.5486)/62.5 = 0.3093.
    """
    return exponential_test(k, log_ratio=3.2332, initial=-0.8)


PLUGIN = Method(
    name=NAME,
    title="Bouwer and Rice, under a water table",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Bouwer and Rice (1976), Bouwer (1989)",
)
