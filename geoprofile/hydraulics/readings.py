"""Readings made ready for fitting: order, doubles, clock jumps, baseline, start and H0."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.tests import Array, HydraulicTest

DRIFT_LIMIT = 0.01  # [-] of H0 per time lag; common practice, no source
SPIKE = 0.03  # [-] of the range of readings; common practice, no source
MOST_SPIKES = 0.03  # [-] share of readings above which they are no lone errors
RADIUS_CHANCE_LATE, RADIUS_CHANCE = 0.15, 0.5  # [-] of a wrong riser radius; own judgement
H0_TOLERANCE = 0.10  # [-] expected against read displacement; common practice, no source


@dataclass(frozen=True, eq=False)
class Treated:
    """Readings since the start, positive at the start and divided by nothing.

    `time_s` (n,) since `start_s`; `head_m` (n,) sign turned so that it starts above 0; `raw_time_s`
    the times as recorded; `noise_m` the sd of one reading; `initial_m` is H0, above 0; `lag_s` the
    rough time to fall to 37 %; `doubts` make a test qualified; `remarks` only inform.
    `radius_chance` [-] is that of a riser radius told wrong; ln K then changes by `radius_ln_k`.
    """

    time_s: Array
    head_m: Array
    sign: float
    start_s: float
    initial_m: float
    noise_m: float
    lag_s: float
    drift_m_per_s: float
    doubts: tuple[str, ...]
    remarks: tuple[str, ...]
    radius_chance: float = 0.0
    radius_ln_k: float = 0.0

    @property
    def normalised(self) -> Array:
        """H/H0, shape (n,) [-]."""
        return self.head_m / self.initial_m

    @cached_property
    def lowest(self) -> float:
        """Smallest normalised head that is reached, smoothed over the last readings [-]."""
        count = min(max(3, self.head_m.size // 100), self.head_m.size)
        return float(np.median(self.head_m[-count:]) / self.initial_m)


@lru_cache(maxsize=8)  # every method asks, one test after the other
def treat(test: HydraulicTest) -> Treated:
    """Order the readings, take off the baseline, find start time and initial displacement.

    Parameters
    ----------
    test : HydraulicTest [-]
        A checked test with readings [s], [m].

    Returns
    -------
    Treated [-]
        Readings since the start [s], [m], with everything that was done to them in words.

    Raises
    ------
    DataError
        Fewer than five readings are left, or no displacement stands out of the noise.

    Notes
    -----
    The start is the first reading that comes within the noise of the largest early displacement:
    moving the start is exact for an exponential recovery and a good approximation when storage
    matters (Pandit and Miner 1986, from memory). H0 is read there from a short line.
    """
    doubts: list[str] = []
    remarks: list[str] = []
    time, value = _ordered(test, doubts, remarks)
    time, value = _without_spikes(time, value, doubts, remarks)
    sign = _direction(test, time, value)
    value = value * sign
    origin = _clock_error(test, time, value)
    if origin:
        remarks.append(f"the response began at {origin:g} s: seconds are counted from there")
        time = time - origin
    fixed = None if test.chosen_start_s is None else test.chosen_start_s - origin
    noise = noise_level(value[time >= 0])
    baseline = bool(np.any(time < 0))
    value, drift = _without_baseline(time, value, noise, doubts, remarks)
    time, value = time[time >= 0], value[time >= 0]
    late = fixed is None and not baseline and not _rose(value, noise)
    first, initial = _start(test, fixed, time, value, noise)
    start = float(time[first]) if fixed is None else fixed
    if first and fixed is None:
        remarks.append(f"start moved to {start + origin:g} s, the largest displacement")
        if np.count_nonzero(value[:first] > 0.5 * initial) >= 3:
            doubts.append("the level was up before its largest displacement: slow start or a jump")
    since, head = time[first:] - start, value[first:]
    if head.size < 5:
        raise DataError(
            test.where,
            f"{head.size} readings after the largest displacement",
            "5 or more",
            "Log faster, or exclude the test.",
        )
    if initial < 6 * noise or initial <= 0:
        raise DataError(
            test.where,
            f"a displacement of {initial:.3g} m in noise of {noise:.3g} m",
            "six times the noise or more",
            "Use a larger displacement or a better sensor.",
        )
    doubt = _judge_initial(test, initial, late, doubts, remarks)
    lag = _rough_lag(since, head / initial)
    if drift * lag > DRIFT_LIMIT * initial:
        moved = 100 * drift * lag / initial
        doubts.append(f"the level drifted by {moved:.1f} % of H0 per time lag")
    return Treated(
        since,
        head,
        sign,
        start + origin,
        initial,
        noise,
        lag,
        drift,
        tuple(doubts),
        tuple(remarks),
        *doubt,
    )


def _clock_error(test: HydraulicTest, time: Array, value: Array) -> float:
    """Where on the clock the response began, if that was before its second 0 [s].

    A logger whose clock is behind writes the first readings of the response before 0.
    """
    if test.chosen_start_s is not None and test.chosen_start_s < 0:
        return test.chosen_start_s
    early = time < 0
    if not early.any():
        return 0.0
    up = np.flatnonzero(early & (value > 0.5 * float(np.max(value))))
    if not up.size or value[up[-1]] <= 0 or up[-1] + 1 < np.count_nonzero(early):
        return 0.0  # a lone jump within the baseline is no response
    return float(time[up[0]])


def _rose(value: Array, noise: float) -> bool:
    """Whether the record shows the level before, or on its way to, the largest displacement."""
    peak = int(np.argmax(value))
    return bool(peak > 0 and value[0] < value[peak] - max(6.0 * noise, 0.05 * value[peak]))


def noise_level(value: Array) -> float:
    """Sd of one reading from how far readings lie off the line through their neighbours.

    Parameters
    ----------
    value : Array, shape (n,) [m]
        Readings in the order of time.

    Returns
    -------
    float [m]
        0 with fewer than five readings.
    """
    if value.size < 5:
        return 0.0
    bend = value[1:-1] - 0.5 * (value[:-2] + value[2:])
    late = bend[bend.size // 3 :]  # early readings bend because the head falls
    return float(1.4826 * np.median(np.abs(late)) / np.sqrt(1.5))


def _ordered(test: HydraulicTest, doubts: list[str], remarks: list[str]) -> tuple[Array, Array]:
    """Finite readings in strictly rising time; equal times are averaged."""
    good = np.isfinite(test.elapsed_s) & np.isfinite(test.displacement_m)
    time, value = test.elapsed_s[good], test.displacement_m[good]
    if not good.all():
        remarks.append(f"{np.count_nonzero(~good)} readings without a number were left out")
    step = np.diff(time)
    if np.all(step > 0):
        _judge_gaps(time, value, doubts)
        return time, value
    back = np.flatnonzero(step < 0)
    if back.size == 1 and _clock_was_set_back(time, int(back[0])):
        time = _repair_clock(time, int(back[0]))
        doubts.append("the clock jumped back once; later readings were moved on")
    elif back.size:
        order = np.argsort(time, kind="stable")
        time, value = time[order], value[order]
        doubts.append(f"{back.size} readings were out of order and were sorted")
    unique, first = np.unique(time, return_index=True)
    if unique.size < time.size:
        remarks.append(f"{time.size - unique.size} readings at equal times were averaged")
        count = np.diff(np.append(first, time.size))
        value = np.add.reduceat(value, first) / count
        time = unique
    _judge_gaps(time, value, doubts)
    return time, value


def _clock_was_set_back(time: Array, at: int) -> bool:
    """One long step back with an orderly run on both sides is a clock, not a mixed-up row."""
    return min(at + 1, time.size - at - 1) >= 5 and bool(time[at + 2] < time[at])


def _repair_clock(time: Array, at: int) -> Array:
    """Move the later run on so that it follows by one usual step."""
    usual = float(np.median(np.diff(time)[max(0, at - 5) : at]))
    return np.append(time[: at + 1], time[at + 1 :] - time[at + 1] + time[at] + usual)


def _judge_gaps(time: Array, value: Array, doubts: list[str]) -> None:
    """A hole in the record matters when the head falls far within it."""
    step, fall = np.diff(time), np.abs(np.diff(value))
    span = float(np.ptp(value))
    around = np.maximum(np.append(step[0], step[:-1]), np.append(step[1:], step[-1]))
    wide = (step > 10 * around) & (fall > 0.1 * span)
    if wide.any():
        at = int(np.argmax(wide))
        doubts.append(f"no readings between {time[at]:g} s and {time[at + 1]:g} s")
    jump = (step > 10 * around) & ~wide & (np.abs(value[1:]) > 0.2 * np.max(np.abs(value)))
    for row in np.flatnonzero(jump[5:]) + 5:
        pace = abs(value[row] - value[row - 5]) / (time[row] - time[row - 5])
        if fall[row] < 0.2 * pace * step[row] - 5.0 * noise_level(value):
            doubts.append(f"the clock seems to jump forward at {time[row]:g} s")
            return


def _without_spikes(
    time: Array, value: Array, doubts: list[str], remarks: list[str]
) -> tuple[Array, Array]:
    """Leave out lone readings far from four neighbours that agree among themselves."""
    if value.size < 20:
        return time, value
    limit = max(10.0 * noise_level(value), SPIKE * float(np.ptp(value)))
    around = np.stack((value[:-4], value[1:-3], value[3:-1], value[4:]))
    off = np.minimum(np.abs(value[2:-2] - around.max(0)), np.abs(value[2:-2] - around.min(0)))
    outside = (value[2:-2] > around.max(0)) | (value[2:-2] < around.min(0))
    lone = outside & (off > limit) & (np.ptp(around, axis=0) < 0.5 * off)
    count = int(np.count_nonzero(lone))
    if count == 0:
        return time, value
    if count > MOST_SPIKES * value.size:
        doubts.append(f"{count} readings jump away from their neighbours")
        return time, value
    remarks.append(f"{count} lone readings far off their neighbours were left out")
    keep = np.ones(value.size, dtype=np.bool_)
    keep[2:-2] = ~lone
    return time[keep], value[keep]


def _direction(test: HydraulicTest, time: Array, value: Array) -> float:
    """+1 or -1 so that the displacement starts above 0."""
    if test.kind == "falling head":
        return 1.0
    if test.kind == "rising head":
        return -1.0
    after = value[time >= 0]
    return float(np.sign(after[np.argmax(np.abs(after))]) or 1.0)


def _without_baseline(
    time: Array, value: Array, noise: float, doubts: list[str], remarks: list[str]
) -> tuple[Array, float]:
    """Take off the trend of the readings before 0 when there are enough to see one."""
    before = time < 0
    if np.count_nonzero(before) < 3:
        return value, 0.0
    level = float(np.mean(value[before]))
    if np.count_nonzero(before) < 8:
        remarks.append(f"static level taken from {np.count_nonzero(before)} readings before 0")
        return value - level, 0.0
    slope, at_zero = np.polyfit(time[before], value[before], 1)
    spread = max(noise, float(np.std(value[before] - np.polyval((slope, at_zero), time[before]))))
    sd = spread / (np.std(time[before]) * np.sqrt(np.count_nonzero(before)))
    if abs(slope) <= 3 * sd:
        remarks.append("static level taken from the readings before 0")
        return value - level, 0.0
    remarks.append(f"a trend of {slope:.2g} m/s before the test was taken off")
    return value - at_zero - slope * time, abs(float(slope))


def _start(
    test: HydraulicTest, chosen: float | None, time: Array, value: Array, noise: float
) -> tuple[int, float]:
    """Row of the start and H0, read from a short line through the first readings."""
    if chosen is not None:
        first = int(np.searchsorted(time, chosen))
        if first >= time.size:
            raise DataError(
                test.where,
                f"chosen start {test.chosen_start_s:g} s",
                f"a start before the last reading at {time[-1]:g} s",
                "Correct the chosen start.",
            )
        return first, float(np.interp(chosen, time, value))
    peak = float(value.max())
    first = int(np.argmax(value >= peak - 4.0 * noise))
    head = value[first : first + 8]
    near = head.size > 3 and np.ptp(head) < 0.05 * peak
    if not near or noise < 0.002 * peak:
        return first, float(value[first])
    since = time[first : first + head.size] - time[first]
    return first, float(np.polyfit(since, head, 1)[1])


def _judge_initial(
    test: HydraulicTest, initial: float, late: bool, doubts: list[str], remarks: list[str]
) -> tuple[float, float]:
    """Compare H0 with the displacement that slug volume or air pressure should have made.

    What comes back is the chance of a riser radius told wrong, and ln K with the right one less
    ln K. A record that begins on the falling limb may have begun late, which does not change K; one
    that shows the rise cannot have.
    """
    if test.expected_displacement_m is None:
        remarks.append("H0 was not checked against slug volume or air pressure")
        return 0.0, 0.0
    gap = initial / abs(test.expected_displacement_m) - 1.0
    if abs(gap) <= H0_TOLERANCE:
        return 0.0, 0.0
    if gap < 0 and late:
        doubts.append(
            f"H0 read is {gap:+.0%} off the expected one: logging began late, which K allows "
            "for, or the riser is wider than told, which its bounds allow for"
        )
        return RADIUS_CHANCE_LATE, -float(np.log1p(gap))
    doubts.append(
        f"H0 read is {gap:+.0%} off the expected one: wrong riser radius, trapped air or a slow "
        "start"
    )
    return RADIUS_CHANCE, -float(np.log1p(gap))


def _rough_lag(time: Array, normalised: Array) -> float:
    """Time to fall to 37 %, from where the head is now when it never gets there [s]."""
    below = np.flatnonzero(normalised <= np.exp(-1.0))
    if below.size and time[below[0]] > 0:
        return float(time[below[0]])
    last = float(np.clip(normalised[-1], 0.37, 0.999))
    return float(max(time[-1], 1e-9) / -np.log(last))
