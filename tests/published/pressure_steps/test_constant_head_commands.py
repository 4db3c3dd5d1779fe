"""Published constant-head relations from CSV files through `create`, `load`, `conductivity`."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.store import Store

HOLE = """borehole,x,y,ground_elevation_m,depth_m
B,500000,5300000,100,40
"""
BUILT = """borehole,top_m,bottom_m,kind,diameter_mm
B,0,4,casing,110
B,4,40,open hole,96
"""
ZONE = """interval,borehole,top_m,bottom_m,isolation,static_depth_m
Z,B,20,25,straddle,6
"""
LENGTH, RADIUS, GRAVITY, RHO = 5.0, 0.048, 9.80665, 999.7


def analysed(
    folder: Path, tests: str, steps: str, **more: str
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Tables conductivity, lugeon and conductivity_budget of one site made from CSV texts."""
    files = {
        "boreholes": HOLE,
        "construction": BUILT,
        "intervals": ZONE,
        "tests": tests,
        "pressure_steps": steps,
        **more,
    }
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    site = folder / "s.gpkg"
    paths = [str(folder / f"{name}.csv") for name in files]
    for words in (
        ["create", str(site), "--crs", "EPSG:32632"],
        ["load", str(site), *paths],
        ["conductivity", str(site)],
    ):
        done = CliRunner().invoke(cli, words)
        assert done.exit_code == 0, (done.output, done.exception)
    read = Store.open(site).read()
    return read.table("conductivity"), read.table("lugeon"), read.table("conductivity_budget")


def steps_csv(flow: np.ndarray, head: np.ndarray) -> str:
    """Steps of ten minutes with heads from a transducer in the zone."""
    rows = [
        f"T,{i},{q * 6e4:.8g},10,{h:.8g}"
        for i, (q, h) in enumerate(zip(flow, head, strict=True), 1)
    ]
    return "\n".join(["test,step,flow_l_min,minutes,zone_head_m", *rows]) + "\n"


WHOLE = (
    "test,interval,kind,aquifer,aquifer_top_m,aquifer_thickness_m,kv_kh,water_temperature_c\n"
    "T,Z,constant head,confined,20,5,1,10\n"
)
FREE = "test,interval,kind,water_temperature_c,kv_kh\nT,Z,constant head,10,1\n"


def test_jacob_and_lohman_flow_gives_k_back(tmp_path: Path) -> None:
    """The printed G at the printed times, K 2e-7 m/s, Ss 1e-6 1/m: K within 2 %."""
    table = {1e2: 0.346, 1e3: 0.251, 1e4: 0.1964, 1e6: 0.1360, 1e8: 0.1037}
    k, storage, head = 2e-7, 1e-6, 12.0
    scaled = np.array(list(table))
    # between the printed values G is smooth in the log: more readings of the same curve
    fine = np.geomspace(scaled[0], scaled[-1], 12)
    g = np.exp(np.interp(np.log(fine), np.log(scaled), np.log(list(table.values()))))
    g[0], g[-1] = table[1e2], table[1e8]
    keep = np.array([np.argmin(np.abs(np.log(fine / s))) for s in scaled])
    time = np.append(fine[keep], scaled) * storage * RADIUS**2 / k
    flow = 2 * math.pi * LENGTH * k * head * np.append(g[keep], list(table.values()))
    order = np.unique(time.round(9), return_index=True)[1]
    course = "\n".join(
        [
            "test,step,elapsed_s,flow_l_min",
            *(f"T,1,{time[i]:.9g},{6e4 * flow[i]:.9g}" for i in order),
        ]
    )
    rows, *_ = analysed(
        tmp_path, WHOLE, steps_csv(flow[order][-1:], np.array([head])), step_flow=course + "\n"
    )
    own = rows[rows["method"] == "flow-decline"].iloc[0]
    assert own["k_as_fitted_m_per_s"] == pytest.approx(k, rel=0.02)  # table printed to 3 digits


def test_theis_recovery_gives_k_back(tmp_path: Path) -> None:
    """Residual heads of the published line after 30 minutes at one rate: K within 1 %."""
    k, flow = 3e-6, 4e-5
    time = np.geomspace(10, 7200, 30)
    left = flow / (4 * math.pi * k * LENGTH) * np.log((1800 + time) / time)
    readings = "test,elapsed_s,displacement_m\n" + "".join(
        f"T,{t:.4f},{h:.7f}\n" for t, h in zip(time, left, strict=True)
    )
    steps = f"test,step,flow_l_min,minutes,zone_head_m\nT,1,{6e4 * flow:.6f},30,{2 * left[0]:.4f}\n"
    rows, *_ = analysed(tmp_path, WHOLE, steps, readings=readings)
    own = rows[rows["method"] == "injection-recovery"].iloc[0]
    assert own["k_as_fitted_m_per_s"] == pytest.approx(k, rel=0.01)


@pytest.mark.parametrize(
    ("shape", "pattern", "standing"),
    [
        ((1, 1, 1, 1, 1), "laminar", (1, 2, 3, 4, 5)),
        ((1.0, 0.85, 0.7, 0.85, 1.0), "turbulent", (3,)),
        ((1.0, 1.2, 1.6, 1.2, 1.0), "dilation", (1, 5)),
        ((1.0, 1.2, 1.4, 1.6, 1.8), "wash-out", (5,)),
        ((1.8, 1.6, 1.4, 1.2, 1.0), "void filling", (5,)),
    ],
)
def test_lugeon_patterns_of_houlsby(
    tmp_path: Path, shape: tuple[float, ...], pattern: str, standing: tuple[int, ...]
) -> None:
    """Value of each step, pattern and the steps that stand for the test, as stored."""
    head = np.array([10.0, 20.0, 30.0, 20.0, 10.0])
    lugeon = 8.0 * np.array(shape)
    flow = lugeon * LENGTH * head * RHO * GRAVITY / 1e6 / 6e4
    rows, steps, _ = analysed(tmp_path, FREE, steps_csv(flow, head))
    best = rows[rows["preferred"].astype(bool)].iloc[0]
    assert best["pattern"] == pattern
    assert steps["lugeon"].to_numpy(float) == pytest.approx(lugeon, rel=2e-3)
    stand = tuple(steps[steps["representative"].astype(bool)]["step"].astype(int))
    assert stand == standing
    assert best["lugeon"] == pytest.approx(lugeon[np.array(standing) - 1].mean(), rel=2e-3)


def test_forchheimer_series_of_four_steps(tmp_path: Path) -> None:
    """H = A Q + B Q^2 in four rising steps: A, and K with it, come back within 1 %."""
    a, b, head = 4e4, 6e8, np.array([3.0, 6.0, 12.0, 24.0])
    flow = (-a + np.sqrt(a * a + 4 * b * head)) / (2 * b)
    rows, *_ = analysed(tmp_path, FREE, steps_csv(flow, head))
    for _, row in rows.iterrows():
        if row["method"] in ("moye", "thiem"):
            p = (
                math.log(LENGTH / RADIUS)
                if row["method"] == "thiem"
                else 1 + math.log(LENGTH / (2 * RADIUS))
            )
            k = p / (2 * math.pi * LENGTH * a)
            assert row["pattern"] in ("turbulent", None) or pd.isna(row["pattern"])
            assert row["k_as_fitted_m_per_s"] == pytest.approx(k, rel=0.01)


def test_blank_casing_leak_is_taken_off(tmp_path: Path) -> None:
    """Loss in tight casing, proportional to pressure, is no take of the zone."""
    head = np.array([10.0, 20.0, 30.0])
    pressure = head * RHO * GRAVITY / 1e3
    take, leak = 1e-6 * head, 0.3 / 6e4 * pressure / 200.0
    told = FREE.replace("kv_kh\n", "kv_kh,blank_leak_l_min,blank_leak_at_kpa\n").replace(
        "10,1\n", "10,1,0.3,200\n"
    )
    _, steps, _ = analysed(tmp_path, told, steps_csv(take + leak, head))
    assert steps["flow_l_min"].to_numpy(float) == pytest.approx(6e4 * take, rel=1e-3)


def test_budget_sums_to_the_stored_spread(tmp_path: Path) -> None:
    """JCGM 100:2008 eq. 10: squares of the contributions sum to that of sd_log10_k."""
    head = np.array([10.0, 20.0, 30.0, 20.0, 10.0])
    rows, _, budget = analysed(tmp_path, FREE, steps_csv(2e-6 * head, head))
    best = rows[rows["preferred"].astype(bool)].iloc[0]
    total = math.sqrt(float((budget["contribution_log10"] ** 2).sum()))
    assert total == pytest.approx(best["sd_log10_k"], rel=1e-9)
    assert budget["share"].sum() == pytest.approx(1.0)
    assert set(budget["input"]) >= {"skin, added to P", "Kv/Kh, log10", "length", "hole radius"}
