"""Packer practice: inflation, zones, purge, duration and measurable range, pipe tally. Pure.

All of it plans work; none of it replaces the maker's limits, local codes or licensed practice.
"""

from geoprofile.packers.inflation import (
    Inflation,
    gas_line_pressure,
    plan_inflation,
    pressure_at_gland,
    water_line_pressure,
)
from geoprofile.packers.purge import (
    Purge,
    feasible_rate,
    invaded_volume,
    pipe_volume,
    purge_target,
    zone_volume,
)
from geoprofile.packers.ranges import (
    Range,
    constant_head_range,
    logger_interval,
    pulse_radius,
    riser_bounds,
    riser_change,
    slug_range,
    time_lag,
    time_to,
)
from geoprofile.packers.records import Hole, Packer, Rules, Section, SetUp, Spacer
from geoprofile.packers.setups import candidates, faults, single, straddle
from geoprofile.packers.tally import Tally, pipe_tally
from geoprofile.packers.zones import Profile, continuous_zones, separate_zones

__all__ = [
    "Hole",
    "Inflation",
    "Packer",
    "Profile",
    "Purge",
    "Range",
    "Rules",
    "Section",
    "SetUp",
    "Spacer",
    "Tally",
    "candidates",
    "constant_head_range",
    "continuous_zones",
    "faults",
    "feasible_rate",
    "gas_line_pressure",
    "invaded_volume",
    "logger_interval",
    "pipe_tally",
    "pipe_volume",
    "plan_inflation",
    "pressure_at_gland",
    "pulse_radius",
    "purge_target",
    "riser_bounds",
    "riser_change",
    "separate_zones",
    "single",
    "slug_range",
    "straddle",
    "time_lag",
    "time_to",
    "water_line_pressure",
    "zone_volume",
]
