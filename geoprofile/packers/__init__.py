"""Packer practice: inflation, zones, purge, duration and measurable range, pipe tally. Pure.

All of it plans work; none of it replaces the maker's limits, local codes or licensed practice.
"""

from geoprofile.packers.caliper import caliper_cautions
from geoprofile.packers.choice import Choice, Means, Zone, choose_test, measurable_ranges
from geoprofile.packers.equipment import Hole, Packer, Rules, Section, SetUp, Spacer
from geoprofile.packers.inflation import (
    Inflation,
    gas_line_pressure,
    plan_inflation,
    pressure_at_element,
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
    slug_range,
    time_lag,
    time_to,
)
from geoprofile.packers.risers import riser_bounds, riser_change
from geoprofile.packers.schedule import Pace, Purpose, Step, steps_for, with_times
from geoprofile.packers.setups import candidates, faults, single, straddle
from geoprofile.packers.tally import Tally, pipe_tally
from geoprofile.packers.zones import Profile, allowed_tops, continuous_zones, separate_zones

__all__ = [
    "Choice",
    "Hole",
    "Inflation",
    "Means",
    "Pace",
    "Packer",
    "Profile",
    "Purge",
    "Purpose",
    "Range",
    "Rules",
    "Section",
    "SetUp",
    "Spacer",
    "Step",
    "Tally",
    "Zone",
    "allowed_tops",
    "caliper_cautions",
    "candidates",
    "choose_test",
    "constant_head_range",
    "continuous_zones",
    "faults",
    "feasible_rate",
    "gas_line_pressure",
    "invaded_volume",
    "logger_interval",
    "measurable_ranges",
    "pipe_tally",
    "pipe_volume",
    "plan_inflation",
    "pressure_at_element",
    "pulse_radius",
    "purge_target",
    "riser_bounds",
    "riser_change",
    "separate_zones",
    "single",
    "slug_range",
    "steps_for",
    "straddle",
    "time_lag",
    "time_to",
    "water_line_pressure",
    "with_times",
    "zone_volume",
]
