"""What planning starts from: the hole, the packers and open lengths on hand, and the rules."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

GRAVITY = 9.80665  # [m/s2] standard gravity
DENSITY = 999.7  # [kg/m3] fresh water at 10 C (Tanaka et al. 2001)
CENTIMETRE = 0.01  # [m] depths are planned to the centimetre

Isolation = Literal["straddle", "below packer"]


@dataclass(frozen=True)
class Section:
    """A stretch of the hole of one kind and one inside diameter, depths along the hole."""

    top_m: float
    bottom_m: float
    diameter_m: float
    kind: str = "open hole"

    @property
    def is_open(self) -> bool:
        """Whether the rock is bare, so that a packer element can seal against it."""
        return self.kind == "open hole"


@dataclass(frozen=True)
class Hole:
    """A borehole as planning sees it.

    `sections` lie in order along the hole. `static_depth_m` is the vertical depth to water, None
    when not known. `along_m` and `vertical_m` tie depth along the hole to vertical depth; empty
    for a vertical hole. `unsound_m` are stretches (top, bottom) where no packer element may sit.
    `caliper_depth_m` and `caliper_m` are depths, in order, and the diameters measured there.
    """

    borehole: str
    depth_m: float
    sections: tuple[Section, ...]
    static_depth_m: float | None = None
    along_m: tuple[float, ...] = ()
    vertical_m: tuple[float, ...] = ()
    unsound_m: tuple[tuple[float, float], ...] = ()
    caliper_depth_m: tuple[float, ...] = ()
    caliper_m: tuple[float, ...] = ()

    def vertical(self, depth_m: float) -> float:
        """Vertical depth below ground [m] of a depth along the hole [m]."""
        if not self.along_m:
            return depth_m
        k = bisect_left(self.along_m, depth_m)
        while k < len(self.along_m):
            last = (self.along_m[k - 1], self.vertical_m[k - 1]) if k > 0 else (0.0, 0.0)
            if self.along_m[k] > last[0]:
                share = (depth_m - last[0]) / (self.along_m[k] - last[0])
                return last[1] + share * (self.vertical_m[k] - last[1])
            k += 1
        # at most as deep: errs towards more pressure
        return self.vertical_m[-1] + (depth_m - self.along_m[-1])

    def along(self, vertical_m: float) -> float:
        """Depth along the hole [m] at which it first reaches a vertical depth [m].

        The end of the hole where it stays above that depth.
        """
        if not self.along_m or vertical_m <= 0:
            return vertical_m
        for k in range(1, len(self.along_m)):
            high, low = self.vertical_m[k - 1], self.vertical_m[k]
            if high < vertical_m <= low:
                share = (vertical_m - high) / (low - high)
                return self.along_m[k - 1] + share * (self.along_m[k] - self.along_m[k - 1])
        return self.along_m[-1] + max(vertical_m - self.vertical_m[-1], 0.0)

    @property
    def static_along_m(self) -> float | None:
        """Depth to water along the hole [m], as a tape shows it; None when not known."""
        return None if self.static_depth_m is None else self.along(self.static_depth_m)

    @cached_property
    def open_sections(self) -> tuple[Section, ...]:
        """The sections of bare rock."""
        return tuple(s for s in self.sections if s.is_open)

    def narrowest(self, depth_m: float) -> float:
        """Smallest inside diameter [m] that a tool passes on its way to a depth [m]."""
        passed = [s.diameter_m for s in self.sections if s.top_m < depth_m and s.kind in PASSED]
        return min([*passed, *self.measured(0.0, depth_m)]) if passed else 0.0

    def measured(self, top_m: float, bottom_m: float) -> tuple[float, ...]:
        """Diameters [m] that the caliper read between two depths [m]."""
        first = bisect_left(self.caliper_depth_m, top_m)
        return self.caliper_m[first : bisect_right(self.caliper_depth_m, bottom_m)]

    def diameter(self, top_m: float, bottom_m: float) -> float:
        """Largest open diameter [m] between two depths [m]; 0 where there is no open hole."""
        met = [
            s.diameter_m for s in self.open_sections if s.top_m < bottom_m and s.bottom_m > top_m
        ]
        return max(met, default=0.0)


PASSED = ("casing", "riser", "screen", "open hole")  # seal and pack lie outside the pipe


@dataclass(frozen=True)
class Packer:
    """A packer with the limits stated by its maker, in SI units."""

    packer: str
    deflated_diameter_m: float
    min_hole_m: float
    max_hole_m: float
    element_length_m: float
    seating_pressure_pa: float
    max_inflation_pa: float
    max_depth_m: float | None = None
    max_submergence_m: float | None = None
    pipe_inner_diameter_m: float | None = None
    line: Literal["gas", "water"] = "gas"
    line_rating_pa: float | None = None


@dataclass(frozen=True)
class Spacer:
    """An open length on hand for the interval between two packers."""

    spacer: str
    open_length_m: float


@dataclass(frozen=True)
class Rules:
    """What the plan keeps to; the defaults are common practice, no source.

    `clearance_m` stays between a packer element and the end of casing, a change of diameter or the
    bottom of the hole; `slack_m` between the deflated packer and the narrowest place above it.
    `seal_margin` multiplies the largest pressure difference across a packer element.
    `rock_limit_pa_per_m` bounds the inner pressure above hydrostatic per metre of vertical depth;
    None means that nobody gave a limit and none is checked. `out_of_gauge` is the share by which a
    measured diameter may differ from the drilled one where a packer element sits.
    """

    clearance_m: float = 0.3
    slack_m: float = 0.004
    seal_margin: float = 1.3
    pressure_difference_pa: float = 50e3
    gauge_height_m: float = 1.0
    density_kg_m3: float = DENSITY
    shortest_zone_m: float = 0.3
    rock_limit_pa_per_m: float | None = None
    out_of_gauge: float = 0.1


@dataclass(frozen=True)
class SetUp:
    """One position of the tool: the zone, the packer elements that isolate it and the pressure it
    needs.

    Depths along the hole [m]; the zone runs between the packer elements. `inner_pressure_pa` is the
    gauge pressure inside the deepest packer element, `gauge_pressure_pa` what the surface gauge
    then shows.
    """

    borehole: str
    isolation: Isolation
    top_m: float
    bottom_m: float
    packer: Packer
    spacer: Spacer | None
    elements_m: tuple[tuple[float, float], ...]
    inner_pressure_pa: float
    gauge_pressure_pa: float

    @property
    def length_m(self) -> float:
        """Length of the isolated zone [m]."""
        return self.bottom_m - self.top_m
