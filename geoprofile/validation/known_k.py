"""Six hundred invented tests with a known K, made by the finite-volume model; seeded."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

import numpy as np
from scipy.sparse.linalg import splu

from geoprofile.hydraulics.tests import HydraulicTest, PressureStep
from geoprofile.validation.case import Array
from geoprofile.validation.finite_volumes import Ground, assemble, oscillation, recovery

WALL_M, LEAST_LEAK = 0.003, 0.1  # of the pipe [m]; of the water [-], common practice, no source
GRAVITY, RHO, NU = 9.80665, 999.7, 1.306e-6  # water at 10 C
COUNTS = {
    "part": 300,
    "upper_boundary": 60,
    "whole": 90,
    "oscillation": 60,
    "pulse": 45,
    "held": 45,
}
RIGHT = {
    "part": "partial-penetration", "upper_boundary": "partial-penetration",
    "whole": "radial-storage",
    "oscillation": "underdamped", "pulse": "pulse", "held": "steady-anisotropic",
}  # fmt: skip


def loguniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One draw."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def truth(rng: np.random.Generator, family: str) -> tuple[Ground, dict[str, float]]:
    """Ground with its interval, and what the field sheet says about it."""
    length, hole = loguniform(rng, 0.6, 6.0), float(rng.uniform(0.038, 0.08))
    riser = float(rng.choice([0.0127, 0.019, 0.025, 0.0255])) if family != "oscillation" else 0.0255
    k = loguniform(rng, 1e-8, 3e-5) if family != "oscillation" else loguniform(rng, 6e-4, 3e-3)
    k = loguniform(rng, 1e-13, 1e-10) if family == "pulse" else k
    stated_kv = float(rng.choice([1.0, 0.3]))
    kv = stated_kv * 10 ** rng.normal(0.0, 0.3)
    storage = loguniform(rng, 1e-6, 1e-4) if family != "pulse" else loguniform(rng, 3e-7, 1e-5)
    above, below = loguniform(rng, 1.0, 20.0), loguniform(rng, 2.0, 30.0)
    if family == "oscillation":
        above = loguniform(rng, 6.0, 25.0)
    if family in ("whole", "pulse"):
        above = below = 0.0
    area = np.pi * riser**2
    stated = {"riser": riser, "kv": stated_kv}
    if family == "pulse":
        volume, soft = np.pi * hole**2 * length, 4.6e-10 * loguniform(rng, 2.0, 20.0)
        area = volume * soft * RHO * GRAVITY
        stated |= {"volume": volume, "soft": soft}
    water = family not in ("upper_boundary", "whole", "pulse")
    ground = Ground(length, hole, k, kv, storage, above, below, water, area)
    return ground, stated


def sheet(
    rng: np.random.Generator, ground: Ground, stated: dict[str, float], family: str, name: str
) -> HydraulicTest:
    """What the crew wrote down: radii and length a little wrong, depths from a static level."""
    g = ground
    static = float(rng.uniform(2.0, 12.0))
    top = static + g.above
    bottom = top + g.length
    confined = family in ("upper_boundary", "whole", "pulse")
    return HydraulicTest(
        test=name, interval=name, borehole="B", kind="falling head",
        isolation="screen", development="thorough",  # no element that leaks, no skin
        interval_length_m=g.length + rng.normal(0.0, 0.02),
        hole_radius_m=g.hole * (1 + rng.normal(0.0, 0.03)),
        riser_radius_m=stated["riser"] * (1 + rng.normal(0.0, 0.01)),
        top_m=top, bottom_m=bottom, static_depth_m=static if not confined else static - 1.0,
        aquifer_top_m=top - g.above if confined else None,
        aquifer_base_m=bottom + g.below,
        confined=True if confined else (None if rng.random() < 0.5 else False),
        kv_kh=stated["kv"], kv_kh_sd_log10=0.3, water_temperature_c=10.0,
    )  # fmt: skip


def logger(
    rng: np.random.Generator, time: Array, head: Array, last: float
) -> tuple[Array, Array, float]:
    """Readings with noise, and H0: even or log-spaced, some with seconds at rest before."""
    initial = loguniform(rng, 0.3, 2.0)
    count = int(loguniform(rng, 80, 2000))
    if rng.random() < 0.5:
        t = np.linspace(0.0, last, count)
    else:
        t = np.append(0.0, np.geomspace(last / 3000, last, count - 1))
    noise = loguniform(rng, 0.0005, 0.004)
    value = initial * np.interp(t, time, head) + rng.normal(0.0, noise, t.size)
    return t, value, initial


def _is_fast(ground: Ground) -> bool:
    """Whether the damping of the column is below 7."""
    g = ground
    lag = g.storage_area / np.pi * 4.0 / (2 * g.length * g.k)
    return bool(lag * np.sqrt(GRAVITY / (g.above + 1.0)) < 7.0)


def slug(rng: np.random.Generator, family: str, name: str) -> tuple[HydraulicTest, float]:
    """A falling head test, or an oscillation."""
    ground, stated = truth(rng, family)
    while family in ("part", "upper_boundary", "whole") and _is_fast(ground):
        ground, stated = truth(rng, family)  # inertia would count, and this model has none
    test = sheet(rng, ground, stated, family, name)
    lag = ground.storage_area / np.pi * 4.0 / (2 * ground.length * ground.k)
    if family == "oscillation":
        column = ground.above + 0.5 * ground.length * (stated["riser"] / ground.hole) ** 2
        friction = 8 * NU * column / (GRAVITY * stated["riser"] ** 2)
        rate = np.sqrt(GRAVITY / column)
        last = max(20.0 / rate, 3.0 * lag)
        time, head = oscillation(ground, column, last, friction=friction)
        t = np.arange(0.0, last, 0.1)
        initial = loguniform(rng, 0.2, 0.8)
        value = initial * np.interp(t, time, head) + rng.normal(0.0, 0.001, t.size)
    else:
        time, head = recovery(ground, 12.0 * lag)
        last = float(np.interp(-rng.uniform(0.03, 0.18), -head, time))
        t, value, initial = logger(rng, time, head, last)
    expected = initial * (1 + rng.normal(0.0, 0.03)) if rng.random() < 0.7 else None
    test = dataclasses.replace(
        test, elapsed_s=t, displacement_m=value, expected_displacement_m=expected
    )
    if rng.random() < 0.4:
        test = dataclasses.replace(test, kind="rising head", displacement_m=-value)
    if family == "pulse":
        test = dataclasses.replace(
            test, kind="pressure pulse", riser_radius_m=None, displacement_m=10 * value,
            shut_in_volume_m3=stated["volume"], expected_displacement_m=None,
            system_compressibility_per_pa=stated["soft"] * float(np.exp(rng.normal(0, 0.15))),
        )  # fmt: skip
    return test, ground.k


def held(rng: np.random.Generator, name: str) -> tuple[HydraulicTest, float]:
    """Five pressure steps of the steady state, some with turbulent loss."""
    ground, stated = truth(rng, "held")
    test = sheet(rng, ground, stated, "held", name)
    reach = 60.0 * (ground.length + 10 * ground.hole) / np.sqrt(ground.kv_kh)
    matrix, _, wall = assemble(ground, reach=reach)
    take = float(wall.sum() - wall @ splu(matrix).solve(wall))
    heads = np.array([4.0, 8.0, 12.0, 8.0, 4.0]) * loguniform(rng, 0.5, 2.0)
    flow = take * heads
    if rng.random() < 0.4:  # H = Q/take + B Q^2
        b = rng.uniform(0.3, 1.0) / (take**2 * heads.max())
        flow = (-1 / take + np.sqrt(1 / take**2 + 4 * b * heads)) / (2 * b)
    flow = flow * (1 + rng.normal(0.0, 0.01, 5)) * float(np.exp(rng.normal(0.0, 0.1)))
    pressure_steps = tuple(
        PressureStep(step=i + 1, flow_m3_per_s=float(q), net_head_m=float(h))
        for i, (q, h) in enumerate(zip(flow, heads, strict=True))
    )
    return dataclasses.replace(test, kind="constant head", pressure_steps=pressure_steps), ground.k


def good_tests(seed: int, share: float = 1.0) -> Iterator[tuple[str, HydraulicTest, float]]:
    """Family, test and true K of all good tests."""
    for number, (family, count) in enumerate(COUNTS.items()):
        rng = np.random.default_rng((seed, number))
        for i in range(int(count * share)):
            name = f"{family}-{i}"
            yield family, *(held(rng, name) if family == "held" else slug(rng, family, name))


def leaking(test: HydraulicTest, rise: float) -> HydraulicTest:
    """The same between packers, water rising outside by a share of what falls in the pipe [-].

    At least a tenth of the water stands there: less than that nobody calls a faulty test.
    """
    riser = test.riser_radius_m or math.nan
    pipe = riser + WALL_M
    water = (test.hole_radius_m**2 - pipe**2) / riser**2  # outside, for each of its rise
    head = test.displacement_m
    return dataclasses.replace(
        test,
        isolation="straddle",
        riser_outer_radius_m=pipe,
        outside_displacement_m=max(rise, LEAST_LEAK / water) * (head[0] - head),
    )


def bad_tests(seed: int, each: int = 25) -> Iterator[tuple[str, HydraulicTest]]:
    """Tests that a careful hydrogeologist would not accept, with what is wrong."""
    rng = np.random.default_rng((seed, 99))
    for i in range(each):
        test, _ = slug(rng, "part", f"bad-{i}")
        time, value = test.elapsed_s, test.displacement_m
        start = value[0]
        if test.riser_radius_m is None:
            raise ValueError(test)  # the sheet always tells it
        yield "leak", leaking(test, rng.uniform(0.03, 0.3))
        stop = int(np.argmax(np.abs(value) < rng.uniform(0.3, 0.7) * abs(start)))
        stop = max(stop, 8)
        if abs(value[stop - 1]) > 0.3 * abs(start):
            yield (
                "stopped early",
                dataclasses.replace(test, elapsed_s=time[:stop], displacement_m=value[:stop]),
            )
        wrong = float(rng.choice([0.7, 1.3]))
        true_radius = test.riser_radius_m
        yield "radius wrong", dataclasses.replace(
            test, riser_radius_m=true_radius * wrong,
            expected_displacement_m=abs(start) / wrong**2,
        )  # fmt: skip
        at = int(rng.integers(value.size // 4, value.size // 2))
        jump = rng.uniform(0.08, 0.2) * start
        yield (
            "air",
            dataclasses.replace(
                test, displacement_m=value + np.where(np.arange(value.size) >= at, jump, 0.0)
            ),
        )


def repeated_tests(seed: int, intervals: int = 60) -> Iterator[tuple[list[HydraulicTest], float]]:
    """Three repeats of each interval on one field sheet, and the true K."""
    rng = np.random.default_rng((seed, 7))
    for i in range(intervals):
        ground, stated = truth(rng, "part")
        while _is_fast(ground):
            ground, stated = truth(rng, "part")
        noted = sheet(rng, ground, stated, "part", f"repeated-{i}")
        lag = ground.storage_area / np.pi * 4.0 / (2 * ground.length * ground.k)
        time, head = recovery(ground, 12.0 * lag)
        tests = []
        for j in range(3):
            last = float(np.interp(-rng.uniform(0.03, 0.15), -head, time))
            t, value, _ = logger(rng, time, head, last)
            tests.append(
                dataclasses.replace(noted, test=f"{i}-{j}", elapsed_s=t, displacement_m=value)
            )
        yield tests, ground.k
