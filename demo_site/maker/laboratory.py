"""Water levels, samples and laboratory results of the invented site."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from maker.files import number, significant
from maker.ground import SEED, head, interval_conductivity
from maker.holes import HOLES, Interval, position
from maker.plume import PLUMES, ROUNDS, Plume, interval_concentration
from maker.readings import stamp

NOISE_LN = 0.10
DUPLICATE_SHARE = 0.13
BLANKS_PER_ROUND = 4
FIRST_DAY = (datetime(2024, 6, 10, 8, 30), datetime(2024, 10, 14, 8, 30))
MUDDLED = "010-04"  # the duplicate of this zone disagrees with its primary
SEASON_M = (0.0, -0.14)  # change of the water table from round to round


@dataclass(frozen=True)
class Sample:
    """One bottle."""

    name: str
    interval: Interval
    sampled_at: datetime
    round_index: int
    kind: str
    purged_l: float
    remarks: str = ""


def samples(intervals: list[Interval]) -> list[Sample]:
    """The bottles of both rounds: primaries, duplicates, blanks."""
    rng = np.random.default_rng([SEED, 7])
    out: list[Sample] = []
    for index in range(len(ROUNDS)):
        out += round_samples(intervals, index, rng)
    return out


def round_samples(intervals: list[Interval], index: int, rng: np.random.Generator) -> list[Sample]:
    """One round; the tightest zones gave too little water, in round 2 a few more were left out."""
    at, out, blanks = FIRST_DAY[index], [], 0
    for interval in intervals:
        tight = interval_conductivity(interval.points()) < 1.2e-7
        if tight or rng.random() < 0.06 * index:
            continue
        serial = len(out) + 1
        litres = 3.0 * np.pi * 48.0**2 * 1e-3 * (interval.bottom - interval.top)
        purged = round(float(litres * rng.uniform(0.95, 1.3)))
        bottle = Sample(name(index, serial), interval, at, index, "primary", purged)
        out.append(bottle)
        if rng.random() < DUPLICATE_SHARE:
            out.append(Sample(name(index, serial + 1), interval, at, index, "duplicate", purged))
        if len(out) > 28 * (blanks + 1) - 4 and blanks < BLANKS_PER_ROUND:
            blanks += 1
            note = "rinse of the sampler before this zone"
            early = at - timedelta(minutes=15)
            out.append(Sample(name(index, len(out) + 1), interval, early, index, "blank", 0, note))
        at += timedelta(minutes=50)
        if at.hour >= 17:
            at = (at + timedelta(days=1)).replace(hour=8, minute=30)
    return out


def name(index: int, serial: int) -> str:
    """Sample names that look like numbers to a careless reader: 10007 is sample 7 of round 1."""
    return f"{index + 1}{serial:04d}"


def sample_rows(bottles: list[Sample]) -> list[tuple[object, ...]]:
    """sample, interval, sampled_at, round, kind, medium, purged_l, remarks."""
    return [
        (b.name, b.interval.name, stamp(b.sampled_at), ROUNDS[b.round_index], b.kind, "water",
         f"{b.purged_l:.0f}", b.remarks)
        for b in bottles
    ]  # fmt: skip


def result_rows(bottles: list[Sample]) -> list[tuple[object, ...]]:
    """sample, analyte, cas, value, unit, limit, qualifier."""
    rng = np.random.default_rng([SEED, 8])
    out = []
    for bottle in bottles:
        for plume in PLUMES:
            found = found_value(bottle, plume, rng)
            out.append(
                (bottle.name, plume.analyte, plume.cas, *reported(found, bottle, plume, rng))
            )
    return out


def found_value(bottle: Sample, plume: Plume, rng: np.random.Generator) -> float:
    """What the laboratory finds [ug/L], before it compares with its limit."""
    noise = float(np.exp(NOISE_LN * rng.standard_normal()))
    if bottle.kind == "blank":
        # The second blank of round 1 carried a little over from a strong zone.
        carried = bottle.round_index == 0 and plume.analyte == "TCE" and bottle.name < "10060"
        return 1.4 * noise if carried and bottle.name > "10030" else 0.0
    if bottle.kind == "duplicate" and bottle.interval.name == MUDDLED:
        noise *= 1.8
    points = bottle.interval.points()
    truth = interval_concentration(points, plume.analyte, ROUNDS[bottle.round_index])
    return truth * noise


def reported(
    found: float, bottle: Sample, plume: Plume, rng: np.random.Generator
) -> tuple[str, str, str, str]:
    """value, unit, limit, qualifier as printed: numbers, `<limit`, `limit U`, `ND`, `value J`."""
    limit = plume.limits_ug_per_l[bottle.round_index]
    style = rng.random()
    text = f"{limit:g}"
    if found < 0.6 * limit:
        if style < 0.6:
            return f"<{text}", "ug/L", text, ""
        return (f"{text} U", "ug/L", text, "") if style < 0.8 else ("ND", "ug/L", text, "")
    if found < limit:
        value = significant(found, 2)
        return (f"{value} J", "ug/L", text, "") if style < 0.6 else (value, "ug/L", text, "J")
    if found >= 1000 and bottle.round_index == 0:
        return significant(found / 1000), "mg/L", f"{limit / 1000:g}", ""
    return significant(found), "ug/L", text, ""


def water_level_rows(intervals: list[Interval]) -> list[tuple[object, ...]]:
    """borehole, interval, measured_at, depth_to_water_m: open holes, then isolated zones."""
    rng = np.random.default_rng([SEED, 9])
    out: list[tuple[object, ...]] = []
    for index, start in enumerate(FIRST_DAY):
        at = start - timedelta(days=2)
        for hole in HOLES:
            # An open hole shows the mean head along it.
            points = position(hole, np.linspace(hole.casing, hole.depth, 50))
            depth = hole.collar[2] - float(np.mean(head(points))) - SEASON_M[index]
            at += timedelta(minutes=12)
            out.append((hole.name, "", stamp(at), number(depth + 0.005 * rng.standard_normal(), 2)))
        for interval in intervals:
            if int(interval.name[-2:]) % 2 == 0:
                continue
            at += timedelta(minutes=25)
            depth = interval.static_depth() - SEASON_M[index] + 0.005 * rng.standard_normal()
            out.append((interval.hole.name, interval.name, stamp(at), number(depth, 3)))
    return out
