"""The invented test campaign: which interval was tested, when, how and with what truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from maker import slug
from maker.ground import KV_KH, SEED, SPECIFIC_STORAGE, interval_conductivity
from maker.holes import (
    CASING_DIAMETER_MM,
    HOLE_DIAMETER_MM,
    PACKERS,
    Interval,
    aquifer_thickness,
)

PIPE_DIAMETER_MM = 38.0
WELL_DIAMETER_MM = 52.0
PACK_RADIUS_MM = 60.0
UNTESTED = 11
REPEATED = 9  # intervals with three tests
INJECTED = ("011-02", "011-04", "011-06")  # tight, so that pipe friction does not matter
LONGEST_S = 12_000.0
INTERVAL_SCATTER = 0.08  # sd of ln K: what no test of the interval can tell
TEST_SCATTER = 0.03  # sd of ln K from test to test


@dataclass(frozen=True)
class Test:
    """One test with its truth; `story` is plain, underdamped, leaking, early stop or injection."""

    name: str
    interval: Interval
    kind: str
    started_at: datetime
    displacement_m: float
    expected_m: float
    duration_s: float
    conductivity_m_per_s: float
    riser_diameter_mm: float
    tubes_mm: tuple[float, ...]
    temperature_c: float
    story: str
    status: str = "use"
    remarks: str = ""

    def zone(self) -> slug.Zone:
        """What the forward models take."""
        interval = self.interval
        static = interval.static_depth()
        top, bottom = interval.vertical()
        middle = (top + bottom) / 2 - static
        half = (interval.bottom - interval.top) / 2
        area = self.riser_diameter_mm**2 - sum(d**2 for d in self.tubes_mm)
        # A level that moves in a slanting pipe has a longer, elliptic face.
        area /= np.cos(interval.inclination())
        wall = PACK_RADIUS_MM if interval.isolation == "screen" else HOLE_DIAMETER_MM / 2
        return slug.Zone(
            self.conductivity_m_per_s,
            SPECIFIC_STORAGE,
            KV_KH,
            middle - half,
            middle + half,
            aquifer_thickness(interval),
            wall / 1000,
            float(np.sqrt(area)) / 2000,
        )

    def column_m(self) -> float:
        """Length of the water column that moves [m]: the pipe's, and the zone's share."""
        zone = self.zone()
        share = (zone.riser_radius_m / zone.hole_radius_m) ** 2
        return zone.top_m + zone.length_m / 2 * share


class Clock:
    """Working days from 08:00 to 17:00; the crew finishes what it began."""

    def __init__(self, start: datetime) -> None:
        """Begin at `start`."""
        self.now = start

    def take(self, seconds: float) -> datetime:
        """Time at which a job of that length starts."""
        if self.now.hour >= 17:
            self.now = (self.now + timedelta(days=1)).replace(hour=8, minute=20)
        start = self.now
        ends = start + timedelta(seconds=seconds + 60)
        self.now = ends.replace(second=0, microsecond=0)
        return start


def riser_of(interval: Interval) -> float:
    """Inside diameter [mm] of the pipe in which the level moves."""
    if interval.isolation == "screen":
        return WELL_DIAMETER_MM
    return CASING_DIAMETER_MM if interval.isolation == "above packer" else PIPE_DIAMETER_MM


def bare_test(interval: Interval, number: int, true_k: float, rng: np.random.Generator) -> Test:
    """A first draft of one test: kind, size and truth."""
    large = interval.isolation == "above packer"
    expected = float(rng.choice([0.3, 0.4] if large else [0.5, 0.8, 1.2]))
    rising = bool((int(interval.name[-2:]) + number) % 2)
    size = expected * float(np.exp(0.02 * rng.standard_normal()))
    tubes = (8.0,) if rng.random() < 0.5 else (8.0, 6.0)
    if large:  # the packer's own pipe stands in the casing
        tubes = (48.0, 8.0)
    return Test(
        name=f"{interval.name}-{'abc'[number]}",
        interval=interval,
        kind="rising head" if rising else "falling head",
        started_at=datetime(2024, 5, 5),
        displacement_m=-size if rising else size,
        expected_m=-expected if rising else expected,
        duration_s=0.0,
        conductivity_m_per_s=true_k * float(np.exp(TEST_SCATTER * rng.standard_normal())),
        riser_diameter_mm=riser_of(interval),
        tubes_mm=tubes,
        temperature_c=round(10.4 + 0.02 * interval.top + 0.1 * float(rng.standard_normal()), 1),
        story="plain",
    )


def with_duration(test: Test) -> Test:
    """Long enough to see 97 % of the recovery, if patience allows."""
    if slug.damping(test.zone(), test.column_m()) < 2.0:
        return replace(test, story="underdamped", duration_s=60.0)
    lag = slug.time_scale(test.zone())
    return replace(test, duration_s=float(np.clip(np.ceil(3.6 * lag / 10) * 10, 40.0, LONGEST_S)))


def slug_tests(intervals: list[Interval]) -> list[Test]:
    """Slug tests of nearly all intervals, three where the interval is repeated."""
    rng = np.random.default_rng([SEED, 4])
    order = [int(i) for i in rng.permutation(len(intervals))]
    fixed = [i for i in order if intervals[i].hole.name not in ("003", "007", "014")]
    untested, repeated = set(fixed[:UNTESTED]), set(fixed[UNTESTED : UNTESTED + REPEATED])
    tests: list[Test] = []
    for index, interval in enumerate(intervals):
        own = float(np.exp(INTERVAL_SCATTER * rng.standard_normal()))
        true_k = interval_conductivity(interval.points()) * own
        count = 0 if index in untested else 3 if index in repeated else 1
        drafts = [with_duration(bare_test(interval, n, true_k, rng)) for n in range(count)]
        tests += as_repeats(drafts)
    return corrupt(tests)


def as_repeats(drafts: list[Test]) -> list[Test]:
    """Three tests of one zone share the tubes; sizes are large, half, large."""
    if len(drafts) < 2:
        return drafts
    sizes = (1.0, 0.5, 1.0)
    first = drafts[0]
    return [
        with_duration(
            replace(
                d,
                tubes_mm=first.tubes_mm,
                temperature_c=first.temperature_c,
                kind=first.kind,
                displacement_m=d.displacement_m * share * first.expected_m / d.expected_m,
                expected_m=round(first.expected_m * share, 2),
            )
        )
        for d, share in zip(drafts, sizes, strict=True)
    ]


def corrupt(tests: list[Test]) -> list[Test]:
    """One test leaks past a packer element, one is stopped early, one is set aside by the crew."""
    out = list(tests)
    alone = [
        i
        for i, t in enumerate(out)
        if t.name.endswith("-a")
        and t.interval.isolation == "straddle"
        and t.story == "plain"
        and t.interval.hole.name in ("004", "009", "012")
        and not any(o.name == t.name[:-1] + "b" for o in out)
    ]
    by_lag = sorted(alone, key=lambda i: slug.time_scale(out[i].zone()))
    leak, early, aside = by_lag[len(by_lag) // 2], by_lag[-1], by_lag[len(by_lag) // 4]
    lag = slug.time_scale(out[early].zone())
    out[leak] = replace(
        out[leak], story="leaking", remarks="level above the upper packer moved with the test"
    )
    out[early] = replace(
        out[early],
        story="early stop",
        duration_s=float(np.ceil(0.22 * lag / 10) * 10),
        remarks="stopped before the level had recovered, thunder",
    )
    out[aside] = replace(
        out[aside], status="exclude", remarks="logger cable caught while the test ran, not used"
    )
    return out


def injection_tests(intervals: list[Interval]) -> list[Test]:
    """Constant-head tests in five pressure steps in three tight intervals of hole 011."""
    rng = np.random.default_rng([SEED, 5])
    chosen = [i for i in intervals if i.name in INJECTED]
    tests = []
    for interval in chosen:
        true_k = interval_conductivity(interval.points())
        draft = bare_test(interval, 2, true_k, rng)
        tests.append(
            replace(
                draft,
                name=f"{interval.name}-w",
                kind="constant head",
                story="injection",
                duration_s=3000.0,
                expected_m=0.0,
                tubes_mm=(),
            )
        )
    return tests


def scheduled(tests: list[Test]) -> tuple[list[Test], dict[str, datetime]]:
    """The tests with their times, and the time at which the packers of each interval were set."""
    clock = Clock(datetime(2024, 5, 5, 8, 20))
    out, set_at = [], {}
    for test in sorted(tests, key=lambda t: (t.interval.name, t.name)):
        if test.interval.name not in set_at:
            clock.take(600.0)
            set_at[test.interval.name] = clock.take(1500.0)
        out.append(replace(test, started_at=clock.take(test.duration_s + 240.0)))
    return out, set_at


def inflation(interval: Interval, rng: np.random.Generator) -> float | None:
    """Gauge inflation pressure [kPa]: seating, the water above the packer element and a margin."""
    if not interval.packer:
        return None
    seating = next(p[5] for p in PACKERS if p[0] == interval.packer)
    water = 9.81 * max(interval.vertical()[0] - interval.static_depth(), 0.0)
    return float(10.0 * round((seating + water + 60.0 + 15.0 * rng.random()) / 10.0))
