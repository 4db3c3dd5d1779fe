"""Frozen records that computing takes and returns; arrays in them are read-only."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array: TypeAlias = NDArray[np.float64]
Kind = Literal["falling head", "rising head", "constant head", "pressure pulse"]
Grade = Literal["accepted", "qualified", "rejected"]
GRADES: tuple[Grade, ...] = ("accepted", "qualified", "rejected")


def _read_only(values: ArrayLike) -> Array:
    """A copy as float64 that nobody can change."""
    array = np.array(values, dtype=np.float64, ndmin=1)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, kw_only=True)
class PressureStep:
    """One step of a constant-head test: what the gauge and the flow meter showed.

    `gauge_height_m` is above ground. With a transducer in the zone give `net_head_m` instead: it
    is taken as it is, without friction. `outside_head_m` is the rise outside the zone. The course
    is flow against time within the step; the blank leak is what the string loses in tight casing.
    """

    step: int
    flow_m3_per_s: float
    gauge_pressure_pa: float | None = None
    gauge_height_m: float = 0.0
    minutes: float | None = None
    net_head_m: float | None = None
    outside_head_m: float | None = None
    flow_time_s: tuple[float, ...] = ()
    flow_course_m3_per_s: tuple[float, ...] = ()
    blank_leak_m3_per_s_per_pa: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """The string between gauge and zone. A loss measured at surface, h = a Q^n, goes first."""

    length_m: float
    inner_diameter_m: float
    roughness_m: float = 1.5e-4
    minor_loss: float = 0.0
    measured_coefficient: float | None = None
    measured_exponent: float | None = None


@dataclass(frozen=True)
class Part:
    """One input of K and what its uncertainty brings, as in the Guide (JCGM 100:2008).

    `estimate` and `standard_uncertainty` in `unit`; `sensitivity` is d ln K by the input; their
    product is `sd_ln` [-], the contribution to ln K. Where K follows the input in no straight line
    `sensitivity` is the contribution over the uncertainty.
    """

    name: str
    estimate: float
    unit: str
    standard_uncertainty: float
    distribution: str
    sensitivity: float

    @property
    def sd_ln(self) -> float:
        """Contribution to the sd of ln K [-]."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, eq=False, kw_only=True)
class HydraulicTest:
    """One hydraulic test of one isolated interval, in SI units.

    Displacement is level minus static level: above 0 when water stands too high (falling head),
    below 0 when it stands too low (rising head). `top_m`, `bottom_m`, `static_depth_m`,
    `aquifer_top_m` and `aquifer_base_m` are vertical depths below ground; `zone_m` are top and
    bottom along the hole, as the crew knows them. Readings before
    `elapsed_s` 0 are the baseline before the test. None means not known. Sds that are None take 1 %
    of the riser radius, 3 % of the hole radius and 0.02 m of the length; Kv/Kh is seldom measured,
    so its sd is a factor of two. `development` is thorough, some, none or, not told, None.
    `open_above_m` is the open hole above the upper element, for the water balance outside the zone.
    """

    test: str
    interval: str
    borehole: str
    kind: Kind
    interval_length_m: float
    hole_radius_m: float
    elapsed_s: Array = field(default_factory=lambda: np.empty(0))
    displacement_m: Array = field(default_factory=lambda: np.empty(0))
    isolation: str = "straddle"
    zone_m: tuple[float, float] | None = None
    riser_radius_m: float | None = None
    tube_radii_m: tuple[float, ...] = ()
    top_m: float | None = None
    bottom_m: float | None = None
    static_depth_m: float | None = None
    aquifer_top_m: float | None = None
    aquifer_base_m: float | None = None
    confined: bool | None = None
    kv_kh: float = 1.0
    expected_displacement_m: float | None = None
    water_temperature_c: float | None = None
    system_compressibility_per_pa: float | None = None
    shut_in_volume_m3: float | None = None
    pack_radius_m: float | None = None
    pack_porosity: float | None = None
    outside_displacement_m: Array | None = None
    riser_outer_radius_m: float | None = None
    element_length_m: float | None = None
    open_above_m: float | None = None
    development: str | None = None
    pressure_steps: tuple[PressureStep, ...] = ()
    pipe: Pipe | None = None
    meter_floor_m3_per_s: float | None = None
    water_column_m: float | None = None
    chosen_method: str | None = None
    chosen_window: tuple[float, float] | None = None
    chosen_start_s: float | None = None
    riser_radius_sd_m: float | None = None
    hole_radius_sd_m: float | None = None
    interval_length_sd_m: float | None = None
    kv_kh_sd_log10: float = 0.3

    def __post_init__(self) -> None:
        """Make every array a read-only copy."""
        for name in ("elapsed_s", "displacement_m", "outside_displacement_m"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, _read_only(value))

    @property
    def effective_riser_radius_m(self) -> float | None:
        """Radius of the free water surface: the riser less the tubes that stand in it [m]."""
        if self.riser_radius_m is None:
            return None
        area = self.riser_radius_m**2 - sum(r**2 for r in self.tube_radii_m)
        return math.sqrt(area) if area > 0 else 0.0

    @property
    def where(self) -> str:
        """How errors and notes name this test."""
        zone = self.zone_m or (self.top_m, self.bottom_m)
        if zone[0] is None or zone[1] is None:
            return f"test {self.test} ({self.borehole})"
        top, bottom = (f"{round(depth, 2):g}" for depth in (zone[0], zone[1]))
        return f"test {self.test} ({self.borehole}, {top}-{bottom} m)"


@dataclass(frozen=True)
class Applicability:
    """Whether a method fits a test, how well (0 to 1, the best one is preferred), and why."""

    applies: bool
    score: float
    reason: str


@dataclass(frozen=True, eq=False, kw_only=True)
class Conductivity:
    """K of one test by one method, with its spread, its grade and what the figure needs.

    A method gives K as fitted: no skin, no leak, Kv/Kh as in the test; `parts` say what spreads it.
    `shift` (m,) are lengths added to P by what nobody told, `shift_ln_k` ln K with them and
    `shift_evidence` how well the readings bear them (ln). `analyse` makes of this the K of the test
    and keeps the other as `k_as_fitted_m_per_s`; `leak_ln_k` is what a leak takes off ln K in the
    mean; `bias_ln` is the method's known ln(K / true K).

    `k_low_m_per_s` and `k_high_m_per_s` bound 95 %, moved by the known bias of the method;
    `sd_log10_k` takes that bias as one more error of K as it stands. `time_s` [s] since `start_s`,
    `measured` and `fitted` are the readings and the curve of the figure; `used` marks readings
    that were fitted. For a test in pressure steps `time_s` holds flow [m3/s] and `measured` net
    head [m].
    """

    method: str
    k_m_per_s: float
    sd_log10_k: float
    k_low_m_per_s: float
    k_high_m_per_s: float
    grade: Grade
    notes: tuple[str, ...] = ()
    specific_storage_per_m: float | None = None
    start_s: float | None = None
    window: tuple[float, float] | None = None
    initial_displacement_m: float | None = None
    time_lag_s: float | None = None
    log_ratio: float | None = None
    lugeon: float | None = None
    damping: float | None = None
    readings_used: int = 0
    misfit: float | None = None
    bias_ln: float = 0.0
    parts: tuple[Part, ...] = ()
    k_as_fitted_m_per_s: float | None = None
    leak_ln_k: float = 0.0
    shift: Array = field(default_factory=lambda: np.empty(0))
    shift_ln_k: Array = field(default_factory=lambda: np.empty(0))
    shift_evidence: Array = field(default_factory=lambda: np.empty(0))
    vertical_share: float = 1.0
    radius_chance: float = 0.0
    radius_ln_k: float = 0.0
    step_lugeon: Array = field(default_factory=lambda: np.empty(0))
    step_loss_m: Array = field(default_factory=lambda: np.empty(0))
    pattern: str | None = None
    time_s: Array = field(default_factory=lambda: np.empty(0))
    measured: Array = field(default_factory=lambda: np.empty(0))
    fitted: Array = field(default_factory=lambda: np.empty(0))
    used: NDArray[np.bool_] = field(default_factory=lambda: np.empty(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        """Make every array read-only."""
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray):
                value.setflags(write=False)


@dataclass(frozen=True, eq=False)
class TestAnalysis:
    """All that one test says: every method that applies, the preferred one, and why not others.

    `by_user` tells that the preferred method, window or start is the user's fixed choice; `reason`
    why the preferred method won.
    """

    __test__ = False  # a record, not a test case

    test: str
    interval: str
    results: tuple[Conductivity, ...]
    preferred: int | None
    not_applicable: tuple[tuple[str, str], ...]
    grade: Grade
    notes: tuple[str, ...]
    by_user: bool = False
    reason: str = ""

    @property
    def best(self) -> Conductivity | None:
        """The preferred result, or None."""
        return None if self.preferred is None else self.results[self.preferred]


@dataclass(frozen=True)
class RepeatCheck:
    """Whether repeats of one interval agree.

    `spread` is the largest gap between normalised heads [-]; None with fewer than two repeats.
    """

    tests: tuple[str, ...]
    coincide: bool | None
    spread: float | None
    depends_on_displacement: bool
    notes: tuple[str, ...]


@dataclass(frozen=True)
class IntervalValue:
    """K of one interval from its repeats: geometric mean, spread, grade and notes."""

    interval: str
    k_m_per_s: float
    sd_log10_k: float
    k_low_m_per_s: float
    k_high_m_per_s: float
    grade: Grade
    tests: tuple[str, ...]
    notes: tuple[str, ...]
