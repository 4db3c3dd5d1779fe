"""Logger readings of the tests, in the forms in which loggers hand them over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

import numpy as np

from maker import slug
from maker.campaign import Test
from maker.files import csv_text, number
from maker.ground import SEED

NOISE_M = 0.0015
WATER_KPA_PER_M = 9.80359  # 999.70 kg/m3 at 10 C times 9.80665 m/s2 (handbook value, from memory)
SENSOR_DEPTH_M = 9.0
FIRST_STEP_S = 0.5
DENSE_S = 30.0
PER_DECADE = 170
BASELINE_S = 20

# How the loggers of each hole were set up; the rest read displacement.
FORMS = {
    "002": "depth to water",
    "003": "vented pressure",
    "005": "absolute pressure",
    "006": "depth to water",
    "007": "vented pressure",
    "008": "absolute pressure",
    "010": "depth to water",
    "011": "head",
    "013": "head",
}
HEADERS = {
    "displacement": "test,elapsed_s,displacement_m",
    "depth to water": "test,elapsed_s,depth_to_water_m",
    "head": "test,elapsed_s,head_m",
    "vented pressure": "test,elapsed_s,pressure_kpa,sensor_depth_m",
    "absolute pressure": "test,measured_at,absolute_pressure_kpa,sensor_depth_m",
    "leaking": "test,elapsed_s,displacement_m,outside_displacement_m",
}
WITH_BASELINE = ("depth to water", "head", "absolute pressure", "vented pressure")


def sampling_times(duration: float, story: str) -> np.ndarray:
    """Times [s] of the logger: every half second, then ever sparser in whole half seconds."""
    if story == "underdamped":
        return np.arange(0.0, duration, 0.1)
    dense = np.arange(0.0, min(DENSE_S, duration), FIRST_STEP_S)
    if duration <= DENSE_S:
        return dense
    count = int(np.ceil(PER_DECADE * np.log10(duration / DENSE_S)))
    sparse = np.geomspace(DENSE_S, duration, max(count, 2))
    return np.unique(np.concatenate([dense, np.round(2.0 * sparse) / 2.0]))


def normalised(test: Test, time: np.ndarray) -> tuple[np.ndarray, np.ndarray | None]:
    """Normalised head in the zone, and outside it where it was logged."""
    zone = test.zone()
    if test.story == "leaking":
        return slug.leaking(zone, time, leak_s=1.6 * slug.time_scale(zone), annulus_ratio=4.2)
    # Storage in the ground and the inertia of the column seldom matter together.
    if slug.damping(zone, test.column_m()) < 5.0:
        return slug.inertial(zone, time, test.column_m()), None
    return slug.transient(zone, time), None


def form_of(test: Test) -> str:
    """The form in which the test's readings are written."""
    if test.story == "leaking":
        return "leaking"
    return FORMS.get(test.interval.hole.name, "displacement")


def air_pressure(seconds: np.ndarray) -> np.ndarray:
    """Air pressure [kPa], `seconds` after 1 May 2024: weather and a half-day tide."""
    day = np.asarray(seconds) / 86_400.0
    weather = 0.9 * np.sin(2 * np.pi * day / 5.3) + 0.5 * np.sin(2 * np.pi * day / 2.1 + 1.0)
    return 101.2 + weather + 0.06 * np.sin(4 * np.pi * day)


def since_may(at: datetime) -> float:
    """Seconds since 1 May 2024."""
    return (at - datetime(2024, 5, 1)).total_seconds()


def measured(test: Test, rng: np.random.Generator) -> tuple[np.ndarray, ...]:
    """Times [s], displacement [m] and displacement outside the zone [m] with noise."""
    time = sampling_times(test.duration_s, test.story)
    share, outside = normalised(test, time)
    before = np.arange(-BASELINE_S, 0.0) if form_of(test) in WITH_BASELINE else np.empty(0)
    level = np.concatenate([np.zeros(len(before)), test.displacement_m * share])
    level = level + NOISE_M * rng.standard_normal(len(level))
    if outside is None:
        return np.concatenate([before, time]), level
    noise = NOISE_M * rng.standard_normal(len(time))
    return time, level, test.displacement_m * outside + noise


def rows(test: Test, rng: np.random.Generator) -> Iterator[tuple[object, ...]]:
    """The lines of one test in its logger's form."""
    time, level, *outside = measured(test, rng)
    static = test.interval.static_depth()
    form = form_of(test)
    water_over_sensor = SENSOR_DEPTH_M - static + level
    for i, t in enumerate(time):
        elapsed = f"{t:.1f}"
        if form == "leaking":
            yield test.name, elapsed, number(level[i], 4), number(outside[0][i], 4)
        elif form == "displacement":
            yield test.name, elapsed, number(level[i], 4)
        elif form == "depth to water":
            yield test.name, elapsed, number(static - level[i], 4)
        elif form == "head":
            yield test.name, elapsed, number(test.interval.hole.collar[2] - static + level[i], 4)
        elif form == "vented pressure":
            gauge = number(WATER_KPA_PER_M * water_over_sensor[i], 3)
            yield test.name, elapsed, gauge, SENSOR_DEPTH_M
        else:
            at = test.started_at + timedelta(seconds=float(t))
            air = float(air_pressure(np.array(since_may(at))))
            total = number(WATER_KPA_PER_M * water_over_sensor[i] + air, 3)
            yield test.name, stamp(at, tenths=True), total, SENSOR_DEPTH_M


def stamp(at: datetime, *, tenths: bool = False) -> str:
    """ISO 8601 time, to the minute or to a tenth of a second."""
    if tenths:
        return at.strftime("%Y-%m-%dT%H:%M:%S") + f".{at.microsecond // 100_000}"
    return at.strftime("%Y-%m-%dT%H:%M")


def reading_files(tests: Iterable[Test]) -> dict[str, str]:
    """File name to text: one long file per hole, and one file of its own for the leaking test."""
    rng = np.random.default_rng([SEED, 6])
    lines: dict[str, list[tuple[object, ...]]] = {}
    headers: dict[str, str] = {}
    for test in tests:
        if test.story == "injection":
            continue
        form = form_of(test)
        name = test.name if form == "leaking" else f"hole_{test.interval.hole.name}"
        headers[name] = HEADERS[form]
        lines.setdefault(name, []).extend(rows(test, rng))
    return {f"readings/{n}.csv": csv_text(headers[n], lines[n]) for n in sorted(lines)}


def barometer_text(tests: Iterable[Test]) -> str:
    """Air pressure every 15 minutes over the days of the tests."""
    last = max(t.started_at for t in tests) + timedelta(days=1)
    at = datetime(2024, 5, 5)
    out = []
    while at < last:
        air = float(air_pressure(np.array(since_may(at))))
        out.append((stamp(at), number(air, 3)))
        at += timedelta(minutes=15)
    return csv_text("measured_at,pressure_kpa", out)


def step_rows(test: Test, rng: np.random.Generator) -> list[tuple[object, ...]]:
    """test, pressure step, gauge pressure, gauge height, flow, minutes: low, medium, peak, medium,
    low.

    Pipe friction is left out: at these flows (under 5 L/min) it stays below 5 mm.
    """
    zone = test.zone()
    factor = slug.steady_factor(zone)
    static = test.interval.static_depth()
    out = []
    for step, pressure in enumerate((20.0, 40.0, 60.0, 40.0, 20.0), start=1):
        net_head = pressure / WATER_KPA_PER_M + 1.0 + static
        flow = 2.0 * np.pi * zone.length_m * zone.conductivity_m_per_s * net_head / factor
        flow *= np.exp(0.02 * rng.standard_normal())
        out.append((test.name, step, pressure, 1.0, number(flow * 60_000.0, 3), 10))
    return out
