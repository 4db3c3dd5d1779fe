"""Logger readings of whatever kind to displacement from the static level, test by test."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.hydraulics.water import density
from geoprofile.intake.barometer import Air, seconds_of
from geoprofile.intake.depths import lookup, numbers_of
from geoprofile.intake.inputs import SIGNALS
from geoprofile.intake.problems import place
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW

Reals = NDArray[np.float64]
GRAVITY = 9.80665  # [m/s2]
DEFAULT_TEMPERATURE = 10.0  # [C] 1 % of density spans 0 to 45 C: the note says it was assumed
SLACK_S = 1800.0  # how far past its last record the barometer may be held


@dataclass(frozen=True, eq=False)
class Facts:
    """What is known of a test beside its readings; NaN where it is not known."""

    started: float
    temperature: float
    static_depth: float
    ground: float


def to_displacement(
    raw: pd.DataFrame,
    tests: pd.DataFrame,
    intervals: pd.DataFrame,
    boreholes: pd.DataFrame,
    air: Air,
    problems: list[Problem],
    notes: list[Problem],
) -> pd.DataFrame:
    """Rows of the table `reading`, numbered in the order of the file, with their source.

    Every test needs one kind of reading and a time; a kind other than displacement needs a static
    level: readings before the start of the test, or the interval's static depth.
    """
    codes, names = pd.factorize(raw["test"], sort=True)
    # tests first, and their rows in the order of the file
    order = np.argsort(codes, kind="stable")
    bounds = np.searchsorted(codes[order], np.arange(len(names) + 1))
    facts = _facts(pd.Series(names, dtype="object"), tests, intervals, boreholes)
    arrays = _arrays(raw)
    pieces: list[pd.DataFrame] = []
    for i, name in enumerate(names):
        rows = order[bounds[i] : bounds[i + 1]]
        part = {k: v[rows] for k, v in arrays.items()}
        where = place(str(raw[SOURCE_FILE].iloc[rows[0]]), int(part[SOURCE_ROW][0]))
        told = _Told(f"{where} (test {name})", problems, notes)
        made = _one(part, facts[i], air, told)
        if made is not None:
            pieces.append(_piece(str(name), made, part))
    if not pieces:
        return _nothing()
    return pd.concat(pieces, ignore_index=True)


@dataclass(frozen=True, eq=False)
class _Told:
    where: str
    problems: list[Problem]
    notes: list[Problem]

    def refuse(self, found: str, expected: str, advice: str) -> None:
        self.problems.append(Problem(self.where, found, expected, advice))

    def note(self, found: str, expected: str, advice: str) -> None:
        self.notes.append(Problem(self.where, found, expected, advice))


def _nothing() -> pd.DataFrame:
    reals = ("elapsed_s", "displacement_m", "outside_displacement_m")
    frame = {"test": pd.Series([], dtype="object"), "number": pd.Series([], dtype="int64")}
    frame |= {n: pd.Series([], dtype="float64") for n in reals}
    return pd.DataFrame(frame).assign(
        **{SOURCE_FILE: pd.Series([], dtype="object"), SOURCE_ROW: pd.Series([], dtype="int64")}
    )


def _arrays(raw: pd.DataFrame) -> dict[str, NDArray[Any]]:
    names = [*SIGNALS, *("outside_" + s for s in SIGNALS)]
    names += ["elapsed_s", "sensor_depth_m", "outside_sensor_depth_m", "air_pressure_kpa"]
    arrays: dict[str, NDArray[Any]] = {n: raw[n].to_numpy(dtype=float) for n in names}
    given = raw["measured_at"].notna()
    arrays["measured"] = np.full(len(raw), np.nan)
    if given.any():
        arrays["measured"][given.to_numpy()] = seconds_of(raw.loc[given, "measured_at"])
    begun = raw["logger_started_at"].notna().to_numpy()
    if begun.any():  # the record's own clock: the test's start stands in its table
        arrays["measured"][begun] = (
            seconds_of(raw.loc[begun, "logger_started_at"]) + arrays["elapsed_s"][begun]
        )
        arrays["elapsed_s"] = np.where(begun, np.nan, arrays["elapsed_s"])
    arrays[SOURCE_ROW] = raw[SOURCE_ROW].to_numpy()
    arrays[SOURCE_FILE] = raw[SOURCE_FILE].to_numpy(dtype=object)
    return arrays


def _facts(
    names: pd.Series,
    tests: pd.DataFrame,
    intervals: pd.DataFrame,
    boreholes: pd.DataFrame,
) -> list[Facts]:
    interval = lookup(names, tests, "test", "interval")
    hole = lookup(interval, intervals, "interval", "borehole")
    starts = lookup(names, tests, "test", "started_at")
    started = seconds_of(starts.where(starts.notna(), None).astype("object"))
    temperature = numbers_of(names, tests, "test", "water_temperature_c")
    static = numbers_of(interval, intervals, "interval", "static_depth_m")
    ground = numbers_of(hole, boreholes, "borehole", "ground_elevation_m")
    return [
        Facts(*map(float, row)) for row in zip(started, temperature, static, ground, strict=True)
    ]


def _one(
    part: dict[str, NDArray[Any]], facts: Facts, air: Air, told: _Told
) -> tuple[Reals, Reals, Reals] | None:
    """Elapsed time and both displacements of one test; None when a problem was told."""
    elapsed = _elapsed(part, facts, told)
    if elapsed is None:
        return None
    if not _from_one_file(part[SOURCE_FILE], elapsed, told):
        return None
    inside = _displacement(part, "", elapsed, facts, air, told)
    if inside is None:
        return None
    if not any(np.isfinite(part["outside_" + s]).any() for s in SIGNALS):
        return elapsed, inside, np.full(len(elapsed), np.nan)
    outside = _displacement(part, "outside_", elapsed, facts, air, told)
    return None if outside is None else (elapsed, inside, outside)


def _from_one_file(files: NDArray[Any], elapsed: Reals, told: _Told) -> bool:
    """Whether one file holds the test, or files that follow one another in time."""
    names = list(dict.fromkeys(files.tolist()))
    if len(names) == 1:
        return True
    spans = sorted((elapsed[files == n].min(), elapsed[files == n].max()) for n in names)
    if all(before[1] < after[0] for before, after in pairwise(spans)):
        return True
    told.refuse(
        f"readings of the same times in {' and '.join(names)}",
        "the readings of a test once",
        "Remove the copy, or correct the name of the test in one of the files.",
    )
    return False


def _elapsed(part: dict[str, NDArray[Any]], facts: Facts, told: _Told) -> Reals | None:
    elapsed, measured = part["elapsed_s"], part["measured"]
    if np.isfinite(elapsed).all():
        return np.asarray(elapsed)
    if not np.isfinite(measured).all():
        told.refuse(
            "readings without a time",
            "elapsed_s or measured_at in every row",
            "Fill the cells, or remove the rows.",
        )
        return None
    if np.isnan(facts.started):
        told.refuse(
            "measured_at for a test without a start",
            "started_at of the test, to count from",
            "Fill started_at in the table of tests.",
        )
        return None
    return np.asarray(measured - facts.started)


def _displacement(
    part: dict[str, NDArray[Any]], prefix: str, elapsed: Reals, facts: Facts, air: Air, told: _Told
) -> Reals | None:
    given = [s for s in SIGNALS if np.isfinite(part[prefix + s]).any()]
    if len(given) != 1:
        told.refuse(
            f"values in {' and '.join(prefix + g for g in given)}" if given else "no readings",
            f"one of {', '.join(prefix + s for s in SIGNALS)} per test",
            "Keep the one that was measured.",
        )
        return None
    signal = part[prefix + given[0]]
    if not np.isfinite(signal).all() and not prefix:
        told.refuse(
            f"{int(np.isnan(signal).sum())} rows without {given[0]}",
            "a value in every row of the test",
            "Fill the cells, or remove the rows.",
        )
        return None
    if given[0] == "displacement_m":
        return np.asarray(signal)
    level = _level(part, prefix, given[0], elapsed, facts, air, told)
    if level is None:
        return None
    return _from_static(level, prefix, given[0], elapsed, facts, part, told)


def _level(
    part: dict[str, NDArray[Any]],
    prefix: str,
    kind: str,
    elapsed: Reals,
    facts: Facts,
    air: Air,
    told: _Told,
) -> Reals | None:
    """Water level, up [m]: an elevation, a negative depth, or a height above the sensor."""
    signal = part[prefix + kind]
    if kind == "head_m":
        return np.asarray(signal)
    if kind == "depth_to_water_m":
        return np.asarray(-signal)
    if np.isnan(facts.temperature):
        told.note(
            f"no water temperature; {DEFAULT_TEMPERATURE:g} degrees C were taken",
            "the temperature of the water for its density",
            "Fill water_temperature_c of the test; 20 degrees instead of 10 is 0.15 % of the head.",
        )
    temperature = DEFAULT_TEMPERATURE if np.isnan(facts.temperature) else facts.temperature
    metres_per_kpa = 1000.0 / (density(temperature) * GRAVITY)
    if kind == "pressure_kpa":
        return np.asarray(signal * metres_per_kpa)
    pressure = _air_at(part, elapsed, facts, air, told)
    return None if pressure is None else np.asarray((signal - pressure) * metres_per_kpa)


def _air_at(
    part: dict[str, NDArray[Any]], elapsed: Reals, facts: Facts, air: Air, told: _Told
) -> Reals | None:
    """Air pressure at the readings [kPa]: beside them, or between the records of the barometer."""
    beside = part["air_pressure_kpa"]
    if np.isfinite(beside).all():
        return np.asarray(beside)
    measured = part["measured"]
    times = measured if np.isfinite(measured).all() else facts.started + elapsed
    if not len(air.times):
        told.refuse(
            "absolute pressure without a barometer",
            "barometer.csv with measured_at and pressure_kpa",
            "Add the barometer's record, or give the air pressure as air_pressure_kpa (a profile "
            "finds it in the header block of a logger file: header_block).",
        )
        return None
    if not np.isfinite(times).all():
        told.refuse(
            "absolute pressure in a test without a start",
            "started_at of the test, to find the air pressure",
            "Fill started_at in the table of tests.",
        )
        return None
    first, last = times.min(), times.max()
    if first < air.times[0] - SLACK_S or last > air.times[-1] + SLACK_S:
        told.refuse(
            "readings at times that the barometer's record does not cover",
            "air pressure at the time of every reading",
            "Check the clocks and time zones of logger and barometer, or add the missing record.",
        )
        return None
    return np.interp(times, air.times, air.pressures)


def _from_static(
    level: Reals,
    prefix: str,
    kind: str,
    elapsed: Reals,
    facts: Facts,
    part: dict[str, NDArray[Any]],
    told: _Told,
) -> Reals | None:
    before = (elapsed < 0) & np.isfinite(level)
    if before.any():
        return np.asarray(level - np.median(level[before]))
    static = _static(prefix, kind, facts, part)
    if np.isnan(static):
        told.refuse(
            f"{prefix}{kind} without a static level",
            "readings before the start (elapsed_s below 0), or static_depth_m of the interval"
            + (" with sensor_depth_m" if "pressure" in kind else ""),
            "Add the readings taken before the test, or the static depth.",
        )
        return None
    return np.asarray(level - static)


def _static(prefix: str, kind: str, facts: Facts, part: dict[str, NDArray[Any]]) -> float:
    """The static level in the terms of the kind; outside the zone only readings before tell it."""
    if prefix:
        return np.nan
    if kind == "head_m":
        return facts.ground - facts.static_depth
    if kind == "depth_to_water_m":
        return -facts.static_depth
    sensors = part["sensor_depth_m"]
    sensor = float(np.median(sensors)) if np.isfinite(sensors).all() else np.nan
    return sensor - facts.static_depth


def _piece(
    name: str,
    made: tuple[Reals, Reals, Reals],
    part: dict[str, NDArray[Any]],
) -> pd.DataFrame:
    elapsed, inside, outside = made
    return pd.DataFrame(
        {
            "test": np.full(len(elapsed), name, dtype=object),
            "number": np.arange(1, len(elapsed) + 1),
            "elapsed_s": elapsed,
            "displacement_m": inside,
            "outside_displacement_m": outside,
            SOURCE_FILE: part[SOURCE_FILE],
            SOURCE_ROW: part[SOURCE_ROW],
        }
    )
