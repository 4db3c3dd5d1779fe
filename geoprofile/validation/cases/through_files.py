"""Constant-head tests from CSV files through loading, units and analysis to the stored tables."""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from geoprofile.store import Store
from geoprofile.validation.case import Array, Case
from geoprofile.validation.cases.flow_under_pressure import HELD_HEAD, HOUSE

LENGTH, RADIUS, GRAVITY, RHO = 5.0, 0.048, 9.80665, 999.7
TEMPERATURE_C = 10.0
CYCLE = np.array([10.0, 20.0, 30.0, 20.0, 10.0])  # net head of five steps [m]
RISING = np.array([10.0, 20.0, 30.0])
HOW = "CSV files through create, load and conductivity; the stored table"
DECLINE_K, DECLINE_STORAGE, DECLINE_HEAD = 2e-7, 1e-6, 12.0
THEIS_K, THEIS_FLOW = 3e-6, 4e-5
FORCHHEIMER_A, FORCHHEIMER_B = 4e4, 6e8
FORCHHEIMER_HEAD = np.array([3.0, 6.0, 12.0, 24.0])
TAKE_PER_HEAD, LEAK_L_MIN, LEAK_AT_KPA = 1e-6, 0.3, 200.0
HOUSE_LUGEON = 8.0
# which of five steps stand for the test in each pattern
STANDING = {
    "laminar": (1, 2, 3, 4, 5), "turbulent": (3,), "dilation": (1, 5), "wash-out": (5,),
    "void filling": (5,),
}  # fmt: skip
SHAPES = {
    "laminar": (1, 1, 1, 1, 1), "turbulent": (1.0, 0.85, 0.7, 0.85, 1.0),
    "dilation": (1.0, 1.2, 1.6, 1.2, 1.0), "wash-out": (1.0, 1.2, 1.4, 1.6, 1.8),
    "void filling": (1.8, 1.6, 1.4, 1.2, 1.0),
}  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """What the field sheet of one test says, each in a borehole of its own."""

    flow_m3_per_s: Array
    head_m: Array
    minutes: float = 10.0
    whole: bool = False  # the zone is the whole of a confined layer
    leaky: bool = False  # a leak was measured in blank casing
    course: tuple[Array, Array] | None = None  # flow against time in the first step
    recovery: tuple[Array, Array] | None = None  # head against time after it


def _decline() -> Sheet:
    """Flow of the printed G at the printed times, and between them by the log."""
    scaled = np.array([t for t in HELD_HEAD if t >= 1e2])
    printed = np.array([HELD_HEAD[t] for t in scaled])
    fine = np.geomspace(scaled[0], scaled[-1], 12)
    keep = np.array([np.argmin(np.abs(np.log(fine / s))) for s in scaled])
    between = np.exp(np.interp(np.log(fine), np.log(scaled), np.log(printed)))
    time = np.append(fine[keep], scaled) * DECLINE_STORAGE * RADIUS**2 / DECLINE_K
    flow = 2 * math.pi * LENGTH * DECLINE_K * DECLINE_HEAD * np.append(between[keep], printed)
    order = np.unique(time.round(9), return_index=True)[1]
    time, flow = time[order], flow[order]
    return Sheet(flow[-1:], np.array([DECLINE_HEAD]), whole=True, course=(time, flow))


def _theis() -> Sheet:
    """Residual heads of the published line after 30 minutes at one rate."""
    time = np.geomspace(10, 7200, 30)
    left = THEIS_FLOW / (4 * math.pi * THEIS_K * LENGTH) * np.log((1800 + time) / time)
    flow, head = np.array([THEIS_FLOW]), np.array([2 * left[0]])
    return Sheet(flow, head, minutes=30.0, whole=True, recovery=(time, left))


def _house(pattern: str) -> Sheet:
    lugeon = HOUSE_LUGEON * np.array(SHAPES[pattern])
    return Sheet(lugeon * LENGTH * CYCLE * RHO * GRAVITY / 1e6 / 6e4, CYCLE)


def _turbulent() -> Sheet:
    a, b = FORCHHEIMER_A, FORCHHEIMER_B
    return Sheet((-a + np.sqrt(a * a + 4 * b * FORCHHEIMER_HEAD)) / (2 * b), FORCHHEIMER_HEAD)


def _leaking() -> Sheet:
    pressure = RISING * RHO * GRAVITY / 1e3
    leak = LEAK_L_MIN / 6e4 * pressure / LEAK_AT_KPA
    return Sheet(TAKE_PER_HEAD * RISING + leak, RISING, leaky=True)


def sheets() -> dict[str, Sheet]:
    """The sheet of every test by its name."""
    return {
        "decline": _decline(), "theis": _theis(), **{p: _house(p) for p in SHAPES},
        "forchheimer": _turbulent(), "leak": _leaking(), "budget": Sheet(2e-6 * CYCLE, CYCLE),
    }  # fmt: skip


def _table(path: Path, columns: str, rows: list[tuple[object, ...]]) -> None:
    said = [",".join("" if v is None else str(v) for v in row) for row in rows]
    path.write_text("\n".join([columns, *said]) + "\n", encoding="utf-8")


def written(folder: Path) -> list[Path]:
    """The sheets as CSV files, in the order in which they are loaded."""
    tests = sheets()
    names = list(tests)
    _table(
        folder / "boreholes.csv", "borehole,x,y,ground_elevation_m,depth_m",
        [(n, 500000 + 200 * i, 5300000, 100, 40) for i, n in enumerate(names)],
    )  # fmt: skip
    _table(
        folder / "construction.csv", "borehole,top_m,bottom_m,kind,diameter_mm",
        [row for n in names for row in ((n, 0, 4, "casing", 110), (n, 4, 40, "open hole", 96))],
    )  # fmt: skip
    _table(
        folder / "intervals.csv", "interval,borehole,top_m,bottom_m,isolation,static_depth_m",
        [(n, n, 20, 25, "straddle", 6) for n in names],
    )  # fmt: skip
    _table(
        folder / "tests.csv",
        "test,interval,kind,water_temperature_c,kv_kh,aquifer,aquifer_top_m,aquifer_thickness_m,"
        "blank_leak_l_min,blank_leak_at_kpa",
        [
            (
                n, n, "constant head", TEMPERATURE_C, 1,
                *(("confined", 20, 5) if s.whole else (None,) * 3),
                *((LEAK_L_MIN, LEAK_AT_KPA) if s.leaky else (None,) * 2),
            )
            for n, s in tests.items()
        ],
    )  # fmt: skip
    _table(
        folder / "pressure_steps.csv", "test,step,flow_l_min,minutes,zone_head_m",
        [
            (n, i, f"{q * 6e4:.8g}", s.minutes, f"{h:.8g}")
            for n, s in tests.items()
            for i, (q, h) in enumerate(zip(s.flow_m3_per_s, s.head_m, strict=True), 1)
        ],
    )  # fmt: skip
    _table(
        folder / "step_flow.csv", "test,step,elapsed_s,flow_l_min",
        [
            (n, 1, f"{t:.9g}", f"{6e4 * q:.9g}")
            for n, s in tests.items() if s.course for t, q in zip(*s.course, strict=True)
        ],
    )  # fmt: skip
    _table(
        folder / "readings.csv", "test,elapsed_s,displacement_m",
        [
            (n, f"{t:.4f}", f"{h:.7f}")
            for n, s in tests.items() if s.recovery for t, h in zip(*s.recovery, strict=True)
        ],
    )  # fmt: skip
    order = ("boreholes", "construction", "intervals", "tests", "pressure_steps", "step_flow")
    return [folder / f"{name}.csv" for name in (*order, "readings")]


@cache
def stored() -> dict[str, pd.DataFrame]:
    """Tables conductivity, lugeon and conductivity_budget of a site made from the files."""
    from geoprofile import app

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = folder / "book.gpkg"
        app.create(path, crs="EPSG:32632")
        app.load(path, written(folder))
        app.derive(path, ("conductivity",), command="conductivity")
        site = Store.open(path).read()  # as any reader of the file finds it
        names = ("conductivity", "lugeon", "conductivity_budget")
        return {name: site.table(name) for name in names}


def _of(name: str, test: str) -> pd.DataFrame:
    table = stored()[name]
    return table[table["test"].astype(str) == test]


def _k(test: str, *methods: str) -> list[float]:
    rows = _of("conductivity", test).set_index("method")["k_as_fitted_m_per_s"]
    return [float(rows[m]) for m in methods]


def _best(test: str) -> pd.Series:
    rows = _of("conductivity", test)
    return rows[rows["preferred"].astype(bool)].iloc[0]


def _house_values(pattern: str) -> list[float]:
    """Lugeon value of each step, that of the test, and whether pattern and steps are as asked."""
    steps, best = _of("lugeon", pattern), _best(pattern)
    standing = tuple(steps[steps["representative"].astype(bool)]["step"].astype(int))
    return [
        *steps["lugeon"].to_numpy(float),
        float(best["lugeon"]),
        float(best["pattern"] == pattern),
        float(standing == STANDING[pattern]),
    ]


def _house_reference(pattern: str) -> tuple[float, ...]:
    each = HOUSE_LUGEON * np.array(SHAPES[pattern])
    return (*each, float(each[np.array(STANDING[pattern]) - 1].mean()), 1.0, 1.0)


def _forchheimer_k() -> tuple[float, float]:
    ratio = (1 + math.log(LENGTH / (2 * RADIUS)), math.log(LENGTH / RADIUS))
    moye, thiem = (p / (2 * math.pi * LENGTH * FORCHHEIMER_A) for p in ratio)
    return moye, thiem


def _patterns_of_turbulence() -> list[float]:
    """Whether the preferred row says turbulent, and how many rows say anything else."""
    told = _of("conductivity", "forchheimer")["pattern"].dropna()
    return [
        float(_best("forchheimer")["pattern"] == "turbulent"),
        float((told != "turbulent").sum()),
    ]


def _budget() -> list[float]:
    """Total of the budget over the stored spread, sum of shares, and what must be listed."""
    rows = _of("conductivity_budget", "budget")
    total = math.sqrt(float((rows["contribution_log10"].astype(float) ** 2).sum()))
    asked = {"skin, added to P", "Kv/Kh, log10", "length", "hole radius"}
    return [
        total / float(_best("budget")["sd_log10_k"]),
        float(rows["share"].astype(float).sum()),
        float(set(rows["input"]) >= asked),
    ]


CASES = (
    Case(
        "files-flow-decline", "k-flow", "K of a flow that declines at constant head, from files",
        "Jacob and Lohman (1952), Transactions AGU 33(4), 559-569, table of G", "from memory",
        (DECLINE_K,), lambda: _k("decline", "flow-decline"), "m/s", relative=0.02,
        how=f"{HOW}; method flow-decline", because="the table is printed to three digits",
        beside="flow-of-held-head",
    ),
    Case(
        "files-injection-recovery", "k-flow", "K of the fall after 30 minutes of injection",
        "Theis (1935) and Horner (1951): Q/(4 pi T) ln((tp + t)/t)", "derived", (THEIS_K,),
        lambda: _k("theis", "injection-recovery"), "m/s", relative=0.01,
        how=f"{HOW}; method injection-recovery", because="the well stores no water in the formula",
    ),
    *(
        Case(
            f"files-lugeon-{pattern.replace(' ', '-')}", "k-flow",
            f"Lugeon values and pattern of five steps: {pattern}", HOUSE, "from memory",
            _house_reference(pattern), lambda p=pattern: _house_values(p), relative=2e-3,  # type: ignore[misc]
            labels=(
                *(f"step {i}, Lu" for i in range(1, 6)), "test, Lu", "pattern as asked",
                "steps that stand for the test as asked",
            ),
            how=HOW, because="density of water is rounded to 999.7 kg/m3", beside="step-patterns",
        )
        for pattern in SHAPES
    ),
    Case(
        "files-turbulent-loss", "k-flow", "K of four steps with H = A Q + B Q^2: that of A alone",
        "Forchheimer (1901), exact arithmetic; Moye (1967), Thiem (1906)", "derived",
        _forchheimer_k(), lambda: _k("forchheimer", "moye", "thiem"), "m/s", relative=0.01,
        labels=("moye", "thiem"), how=f"{HOW}; methods moye and thiem",
        because="flows are written with eight digits, and A is weighted",
    ),
    Case(
        "files-turbulent-pattern", "k-flow", "Patterns told of a rising series H = A Q + B Q^2",
        "Houlsby (1976): take per head that falls as the head rises is turbulent", "derived",
        (1.0, 0.0), _patterns_of_turbulence, labels=("turbulent is told", "others are told"),
        how=f"{HOW}; every method",
    ),
    Case(
        "files-blank-leak", "k-flow", "A leak in blank casing is taken off the flow of each step",
        "Proportional to pressure, exact arithmetic", "derived",
        tuple(6e4 * TAKE_PER_HEAD * RISING),
        lambda: _of("lugeon", "leak")["flow_l_min"].to_numpy(float), "L/min", relative=1e-3,
        labels=("step 1", "step 2", "step 3"), how=HOW,
        because="density of water is rounded to 999.7 kg/m3",
    ),
    Case(
        "files-budget", "k-spread", "Squares of the budget of K over the square of the spread",
        "JCGM 100:2008, eq. 10", "derived", (1.0, 1.0, 1.0), _budget, relative=1e-9,
        labels=("root of the sum over sd", "sum of shares", "skin, Kv/Kh, length, radius listed"),
        how=HOW,
    ),
)  # fmt: skip
