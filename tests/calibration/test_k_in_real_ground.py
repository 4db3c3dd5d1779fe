"""K of tests in real ground, from CSV files through the commands: what the interval holds.

Choices (priors, biases, limits) were made on seed 1; these are fresh seeds. `REAL_TESTS=300` and
`REAL_SEED=2` set number and seed.
"""

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from real_scores import scores, table, through_the_program
from real_tests import CLEAN, MIXTURE, Faults, hole, mixture

pytestmark = pytest.mark.calibration
COUNT, SEED = int(os.environ.get("REAL_TESTS", "300")), int(os.environ.get("REAL_SEED", "2"))
SLUGS = {"screen": 0.3, "straddle": 0.4, "below packer": 0.3}


def test_realistic_mixture(tmp_path: Path) -> None:
    """Interval, median, flags and losses of 300 tests with skin, Kv/Kh, layers, leaks and crews."""
    found = through_the_program(mixture(SEED, COUNT, MIXTURE), tmp_path)
    print(table(found).to_string())
    got = scores(found)
    assert 0.90 <= got["inside"] <= 0.98
    assert got["half_width"] <= 1.7
    assert 0.9 <= got["median"] <= 1.1
    assert got["off_told"] >= 0.8
    assert got["lost"] <= 0.03


def test_clean_slugs_stay_within_2_percent(tmp_path: Path) -> None:
    """Told Kv/Kh, a developed wall, exact radii: the median is within 2 %, all intervals hold."""
    found = through_the_program(mixture(SEED + 30, 40, CLEAN, families=SLUGS), tmp_path)
    got = scores(found)
    assert abs(got["median"] - 1) <= 0.02
    assert got["inside"] == 1.0


def test_screens_across_the_water_table(tmp_path: Path) -> None:
    """With the pack told the median is .85 to 1.15; without, none is accepted."""
    crossing = {"crossing": 1.0}
    told = through_the_program(mixture(SEED + 20, 20, CLEAN, families=crossing), tmp_path / "told")
    assert 0.85 <= scores(told)["median"] <= 1.15
    bare = replace(CLEAN, tell_pack=False)
    found = through_the_program(mixture(SEED + 20, 20, bare, families=crossing), tmp_path / "bare")
    print(table(found).to_string())
    assert scores(found)["accepted"] == 0
    assert scores(found)["inside"] >= 0.9


@pytest.mark.parametrize(
    "faults",
    [
        Faults(clock_s=-7),
        Faults(clock_s=7),
        Faults(late_lags=0.3),
        Faults(ripple_m=0.01),
        Faults(stop_at=0.55),
        Faults(quantum_m=0.01),
        Faults(drift_m_per_h=0.01),
    ],
    ids=lambda f: str(f)[7:40],
)
def test_faults_of_instruments_cost_no_test(faults: Faults, tmp_path: Path) -> None:
    """Every K within 10 % in the median, none lost."""
    found = through_the_program(mixture(SEED + 40, 15, CLEAN, faults, SLUGS), tmp_path)
    got = scores(found)
    assert got["lost"] == 0
    assert abs(got["median"] - 1) <= 0.10


def test_leaks_are_corrected_by_their_water_balance(tmp_path: Path) -> None:
    """Every element leaks .05 to 1 of the zone's own flow, the level outside was read."""
    rules = replace(CLEAN, leak_share=1.0, outside_share=1.0)
    families = {"straddle": 0.5, "below packer": 0.5}
    found = through_the_program(mixture(SEED + 80, 30, rules, families=families), tmp_path)
    got = scores(found)
    assert abs(got["median"] - 1) <= 0.12
    assert got["inside"] >= 0.85


def test_leaks_of_pressure_steps_are_corrected(tmp_path: Path) -> None:
    """The same for steps, with the head outside at the end of each."""
    rules = replace(CLEAN, leak_share=1.0, outside_share=1.0)
    found = through_the_program(mixture(SEED + 90, 30, rules, families={"steps": 1.0}), tmp_path)
    got = scores(found)
    assert abs(got["median"] - 1) <= 0.12
    assert got["inside"] >= 0.85


def test_clean_tests_of_every_family_come_back_as_told(tmp_path: Path) -> None:
    """With no skin, no leak and Kv/Kh as told the K of each family is within 2 % in the median; the
    middle of what nobody told may lie 4 % off.
    """
    found = through_the_program(mixture(SEED + 50, 100, CLEAN), tmp_path)
    print(table(found).to_string())
    for family, rows in found.groupby("family"):
        told = float((rows["fitted"] / rows["k_true"]).median())
        assert abs(told - 1) <= 0.02, (family, told)
        assert abs(scores(rows)["median"] - 1) <= 0.04, family
    assert scores(found)["inside"] >= 0.98


def test_holes_as_a_whole(tmp_path: Path) -> None:
    """Four holes of each kind, 29 zones of 1, 3 and 6 m each: the error of ln K over all is .25 at
    most and 94 % lie inside; no kind loses by it but within its interval.
    """
    errors, inside = {}, {}
    for kind in ("none", "tight", "open", "flat"):
        of_kind = [_hole(seed, kind, tmp_path) for seed in range(10 * SEED, 10 * SEED + 4)]
        errors[kind] = np.concatenate([e for e, _ in of_kind])
        inside[kind] = np.concatenate([i for _, i in of_kind])
        rms = float(np.sqrt(np.mean(errors[kind] ** 2)))
        print(kind, f"rms {rms:.3f} inside {inside[kind].mean():.3f}")
        assert inside[kind].mean() >= 0.85
    assert np.sqrt(np.mean(np.concatenate(list(errors.values())) ** 2)) <= 0.25
    assert np.concatenate(list(inside.values())).mean() >= 0.94


def _hole(seed: int, kind: str, folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Errors of ln K of the zones of one hole, and which lie in their interval."""
    from geoprofile.store import Store

    cases, place = hole(seed, kind), folder / f"{kind}-{seed}"
    through_the_program(cases, place)
    site = Store.open(place / "site.gpkg").read()
    rows = site.table("interval_conductivity").set_index("interval").loc[[c.name for c in cases]]
    assert len(site.table("k_profile")) >= 40
    k, low, high = (
        rows[name].to_numpy(float) for name in ("k_m_per_s", "k_low_m_per_s", "k_high_m_per_s")
    )
    true = np.array([c.k for c in cases])
    return np.log(k / true), (low <= true) & (true <= high)
