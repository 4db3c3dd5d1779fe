"""What a field plan holds: the user's choices, one record per set-up, and the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from geoprofile.drawing.document import Document
from geoprofile.packers import (
    Choice,
    Hole,
    Inflation,
    Means,
    Pace,
    Packer,
    Purge,
    Purpose,
    Rules,
    SetUp,
    Spacer,
    Step,
    Tally,
)


@dataclass(frozen=True)
class Choices:
    """What the user may decide about a plan; the defaults are common practice, no source.

    `packer` and `spacer` are names; None lets the plan choose the packer that covers most and the
    open length nearest to `zone_length_m`. `avoid_m` are stretches of unsound or over-size rock,
    from core, caliper or image log. `tool_m` runs from the top of the tool to its upper seal.
    """

    packer: str | None = None
    spacer: str | None = None
    zone_length_m: float = 2.0
    overlap: float = 0.2
    apart_m: float = 0.0
    avoid_m: tuple[tuple[float, float], ...] = ()
    tool_m: float = 1.2
    pipe_m: float = 3.0
    short_pipes_m: tuple[float, ...] = (0.5, 1.0, 1.5)
    rod_diameter_m: float = 0.0
    drawdown_m: float = 5.0
    pump_m3_s: float = 5e-3 / 60.0
    longest_purge_s: float = 4 * 3600.0
    cross_flow_m3_s: float = 0.0
    open_s: float = 0.0
    rules: Rules = field(default_factory=Rules)
    means: Means = field(default_factory=Means)
    pace: Pace = field(default_factory=Pace)


@dataclass(frozen=True)
class ExpectedK:
    """K expected in a zone: median, 10 and 90 % quantile [m/s]."""

    median_m_per_s: float
    low_m_per_s: float
    high_m_per_s: float


@dataclass(frozen=True)
class Visit:
    """One set-up of the plan with all that its sheet shows.

    `rate_m3_s` is what the rock is expected to give, None where K is not known; `purge_s` is how
    long the plan purges, at most the longest allowed.
    """

    interval: str
    setup: SetUp
    inflation: Inflation
    tally: Tally
    k: ExpectedK | None
    choice: Choice
    purge: Purge
    rate_m3_s: float | None
    purge_s: float
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """What the laboratory is asked for: analytes, each with the unit usual at the site."""

    analytes: tuple[tuple[str, str], ...] = ()
    round: str = ""


@dataclass(frozen=True)
class NewHole:
    """A borehole that is to be drilled: where, how deep, and how it is meant to be built.

    `construction` holds rows of the table construction without the name of the hole [m, mm].
    """

    name: str
    x_m: float
    y_m: float
    longitude_deg: float | None
    latitude_deg: float | None
    ground_elevation_m: float
    depth_m: float
    construction: tuple[Mapping[str, Any], ...]

    @property
    def words(self) -> str:
        """Where it is, for the rig and for a hand-held receiver."""
        globe = (
            ""
            if self.longitude_deg is None
            else f", longitude {self.longitude_deg:.6f}, latitude {self.latitude_deg:.6f} (WGS 84)"
        )
        return (
            f"new borehole {self.name}: easting {self.x_m:.2f} m, northing {self.y_m:.2f} m"
            f"{globe}, {round(self.depth_m, 2):g} m deep"
        )


@dataclass(frozen=True)
class Plan:
    """The field plan of one borehole, from top to bottom.

    `untested_m` are stretches [m] of open hole that stay untested, with `reasons` in words;
    `long_zones` proposals of zones of another length, in words.
    `moved` says what an advice wanted elsewhere; `asked` are the analytes, each with its unit, and
    the round that the blanks for samples ask for; `days_between` are the fewest and most working
    days, which rest on `assumptions`.
    """

    site: str
    borehole: str
    purpose: Purpose
    ground_elevation_m: float
    hole: Hole
    packer: Packer
    spacer: Spacer
    visits: tuple[Visit, ...]
    untested_m: tuple[tuple[float, float], ...]
    reasons: tuple[str, ...]
    choices: Choices
    long_zones: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    new_hole: NewHole | None = None
    asked: Asked = field(default_factory=Asked)
    days_between: tuple[int, int] | None = None
    assumptions: tuple[str, ...] = ()
    document: Document | None = None

    @property
    def days_words(self) -> str:
        """Such as `4 days (3 to 7)`."""
        text = f"{self.days} day{'s' if self.days != 1 else ''}"
        low, high = self.days_between or (self.days, self.days)
        return text if low == high else f"{text} ({low} to {high})"

    @property
    def days(self) -> int:
        """Working days that the plan takes."""
        return max((s.day for v in self.visits for s in v.steps), default=0)
