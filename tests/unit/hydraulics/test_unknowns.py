"""Skin, Kv/Kh, leaks and the budget of K: closed forms, and the Guide against Monte Carlo."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.optimize import minimize

from geoprofile.hydraulics import analyse, hole
from geoprofile.hydraulics.felt import felt, rock_of, seen
from geoprofile.hydraulics.hole import Zones, invert_hole
from geoprofile.hydraulics.leak import (
    SEEN,
    Leak,
    ground_share,
    leak_of,
    loss_ratio,
    open_hole_above,
)
from geoprofile.hydraulics.methods import partial_penetration, pulse, steady_anisotropic
from geoprofile.hydraulics.nuisances import SKINS, draws_of
from geoprofile.hydraulics.posterior import with_unknowns
from geoprofile.hydraulics.ring import added
from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.step_leak import step_leak
from geoprofile.hydraulics.tests import HydraulicTest, PressureStep
from geoprofile.plugins import Method

GOOD = partial_penetration.example(1e-6)
METHOD: Method = partial_penetration.PLUGIN


@pytest.mark.parametrize("f", [0.1, 0.5, 4.0])
def test_ring_adds_hawkins_skin_when_steady(f: float) -> None:
    """As q tends to 0 the ring adds (1/f - 1) ln 2 (Hawkins 1956)."""
    late = added(np.array([1e-12 + 0j]), f)[0]
    assert late.real == pytest.approx((1 / f - 1) * math.log(2.0), rel=1e-4)


def test_ring_rules_alone_when_early() -> None:
    """At large q only the ring is felt: P is K0/(f a K1) of the ring, about 1/sqrt(f q)."""
    q, f = 4e4, 0.25
    whole = added(np.array([q + 0j]), f)[0].real + 1 / math.sqrt(q)
    assert whole == pytest.approx(1 / math.sqrt(f * q), rel=0.01)


def test_ring_of_the_ground_itself_adds_nothing() -> None:
    """F of 1 is no ring."""
    q = np.array([1e-6 + 1e-6j, 0.1 - 0.3j, 50.0 + 1j])
    assert np.abs(added(q, 1.0)).max() < 1e-12


def test_vertical_draws_follow_the_line_formula() -> None:
    """P at ten times lower Kv/Kh is about half of ln 10 higher for a slender zone."""
    p1 = log_ratio_mean_head(3.0, 0.048, kv_kh=1.0)
    p2 = log_ratio_mean_head(3.0, 0.048, kv_kh=0.1)
    assert p2 - p1 == pytest.approx(0.5 * math.log(10.0), abs=0.02)
    draws = draws_of(dataclasses.replace(GOOD, kv_kh=1.0, kv_kh_sd_log10=0.0), Leak())
    assert np.ptp(draws.vertical) == 0.0


def test_development_narrows_the_skin() -> None:
    """A wall that was cleaned thoroughly leaves less room for a skin than one that was not."""
    spread = {
        word: float(np.std(draws_of(dataclasses.replace(GOOD, development=word), Leak()).skin))
        for word in SKINS
    }
    assert spread["thorough"] < spread["some"] < spread[None] < spread["none"]


def test_guide_and_monte_carlo_agree() -> None:
    """JCGM 101:2008, 8: sd by the law of propagation and by 4096 draws of everything agree."""
    result = METHOD.run(GOOD)
    sample = with_unknowns(GOOD, result, Leak())
    mean = sample.weight @ sample.ln_k
    drawn = math.sqrt(float(sample.weight @ (sample.ln_k - mean) ** 2))
    summed = math.sqrt(sum(part.sd_ln**2 for part in sample.parts))
    assert summed == pytest.approx(drawn, rel=0.03)


def test_guide_is_exact_where_all_is_linear() -> None:
    """Without skin and Kv/Kh the budget is that of radii, length and fit by hand."""
    told = dataclasses.replace(
        GOOD, kv_kh_sd_log10=0.0, riser_radius_sd_m=0.0005, hole_radius_sd_m=0.0, isolation="screen"
    )
    result = METHOD.run(told)
    riser = next(p for p in result.parts if p.name == "riser radius")
    assert riser.sd_ln == pytest.approx(2 * 0.0005 / 0.025)


def test_same_test_gives_the_same_interval_to_the_last_digit() -> None:
    """Draws are fixed: no random state."""
    one, two = analyse(GOOD, [METHOD]).best, analyse(GOOD, [METHOD]).best
    assert one is not None
    assert two is not None
    assert (one.k_low_m_per_s, one.k_high_m_per_s) == (two.k_low_m_per_s, two.k_high_m_per_s)


def test_leak_comes_back_from_two_tanks() -> None:
    """A zone that loses only through the element: all water is found outside."""
    riser, area = 0.025, math.pi * (0.048**2 - 0.029**2)
    surface = math.pi * riser**2
    rate, time = 1e-5, np.linspace(0.0, 900.0, 200)
    both = surface * area / (surface + area)
    gap = np.exp(-rate * time / both)
    level = surface / (surface + area)
    head = level + (1 - level) * gap
    outside = level * (1 - gap)
    tight = dataclasses.replace(GOOD, open_above_m=0.0)
    leak = leak_of(tight, time, head, outside)
    assert leak.balanced
    assert leak.mean == pytest.approx(1.0, abs=0.03)


def test_ground_carries_some_water_round_the_element() -> None:
    """A longer element lets less round it; Kv/Kh does not change that by much."""
    short = ground_share(dataclasses.replace(GOOD, element_length_m=0.5))
    long = ground_share(dataclasses.replace(GOOD, element_length_m=2.0))
    assert 0.0 < long < short < 0.3


def test_pulse_with_a_skin_is_not_radial() -> None:
    """The readings of a clean pulse rule out a tight skin: the interval stays near the fit."""
    test = pulse.example(1e-11)
    method = pulse.PLUGIN
    best = analyse(dataclasses.replace(test, isolation="screen"), [method]).best
    assert best is not None
    assert best.k_m_per_s == pytest.approx(1e-11, rel=0.06)


@pytest.mark.parametrize("shift", [0.0, 2.0])
def test_zones_of_mixed_lengths_find_what_adds_to_p(shift: float) -> None:
    """Exact zones of 1, 3 and 6 m in uniform rock: the shift comes back, K with it."""
    top = np.concatenate((np.arange(6.0), np.arange(4.0), [0.0]))
    length = np.concatenate((np.full(6, 1.0), np.full(4, 3.0), [6.0]))
    p = np.array([log_ratio_mean_head(float(x), 0.048) for x in length])
    seen = math.log(1e-6) - np.log((p + shift) / p)
    zones = Zones(20 + top, 20 + top + length, seen, p, np.full(top.size, 0.01))
    prior = draws_of(GOOD, Leak())
    found = invert_hole(
        zones, prior.skin + prior.vertical, shared_sd_ln=0.0, hole_radius_m=0.05, kv_kh=0.25
    )
    assert found.told
    assert found.shift[0] <= shift <= found.shift[2]
    assert np.all(found.zones[:, 0] < math.log(1e-6))
    assert np.all(found.zones[:, 2] > math.log(1e-6))


def test_zones_of_one_length_do_not_pretend_to_know() -> None:
    """Zones of 1 m alone: nothing is told of the shift."""
    top = np.arange(6.0)
    p = np.full(6, 3.0)
    zones = Zones(top, top + 1, np.full(6, -14.0), p, np.full(6, 0.05))
    prior = draws_of(GOOD, Leak())
    found = invert_hole(
        zones, prior.skin + prior.vertical, shared_sd_ln=0.0, hole_radius_m=0.05, kv_kh=0.25
    )
    assert not found.told
    assert found.shift_sd == pytest.approx(found.shift_prior_sd, rel=0.25)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_profile_does_not_hang_on_how_often_it_was_improved(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Zones that differ by factors of thousands: an odd number of steps gives what an even does."""
    rng = np.random.default_rng(seed)
    top = np.array([6.0, 8.6, 11.6, 16.0, 19.5, 24.9, 29.3, 32.3, 36.0])
    length = np.array([1.0, 1.0, 2.0, 1.0, 3.0, 1.0, 1.5, 1.0, 1.0])
    p = np.array([log_ratio_mean_head(float(x), 0.048) for x in length])
    zones = Zones(top, top + length, rng.normal(-13.0, 2.5, 9), p, np.full(9, 0.12))
    shifts = rng.normal(0.0, 0.8, 4096)
    found = []
    for steps in (12, 13):
        monkeypatch.setattr("geoprofile.hydraulics.hole.MOST_STEPS", steps)
        profile = invert_hole(zones, shifts, shared_sd_ln=0.02, hole_radius_m=0.048, kv_kh=0.25)
        found.append(profile.zones)
    np.testing.assert_allclose(found[0], found[1], atol=2e-3)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_profile_is_the_most_probable_one(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """One choice, no shift: the cells that a general search finds most probable."""
    one = {"LENGTHS_M": (2.5,), "SPREADS": (2.0,), "TEST_SDS_LN": (0.1,)}
    for name, value in (one | {"MOST_STEPS": 300, "CLOSE": 1e-7}).items():
        monkeypatch.setattr(hole, name, value)
    rng = np.random.default_rng(seed)
    top, length = np.array([6.0, 8.6, 11.6, 16.0]), np.array([1.0, 1.0, 2.0, 1.0])
    p = np.array([log_ratio_mean_head(float(x), 0.048) for x in length])
    zones = Zones(top, top + length, rng.normal(-13.0, 2.5, 4), p, np.full(4, 0.12))
    found = invert_hole(zones, np.zeros(8), shared_sd_ln=0.0, hole_radius_m=0.048, kv_kh=0.25)
    edges, pad = hole._edges(zones)
    middle = 0.5 * (edges[1:] + edges[:-1])
    rock = rock_of(zones.top_m, zones.bottom_m, edges, 0.048, kv_kh=0.25)
    before = 4.0 * np.exp(-np.abs(middle[:, None] - middle) / 2.5) + hole.WIDE_LN**2
    unlike = np.abs(np.log(length)[:, None] - np.log(length))
    noise = np.diag(np.full(4, 0.12**2 + 0.1**2))
    noise += hole.LENGTH_SD_LN**2 * np.exp(-unlike / hole.LENGTH_FADE)
    root, mean = np.linalg.cholesky(before), float(zones.ln_k.mean())
    share = np.clip(rock.share, 0.0, hole.MOST_BEYOND)

    def cost(white: np.ndarray) -> float:
        left = zones.ln_k - seen(rock, share, (mean + root @ white)[None])[0][0]
        return float(white @ white + left @ np.linalg.solve(noise, left))

    best = minimize(
        cost,
        np.zeros(middle.size),
        method="L-BFGS-B",
        options={"maxfun": 2_000_000, "ftol": 1e-14, "gtol": 1e-7, "maxiter": 20_000},
    )
    cells = (mean + root @ best.x)[pad : middle.size - pad]
    np.testing.assert_allclose(found.cells[:, 1], cells, atol=0.02)


def test_noise_outside_is_no_leak() -> None:
    """A small slug in a wide hole: the scatter of the level outside is not water that came in."""
    rng = np.random.default_rng(3)
    time = np.linspace(0.0, 900.0, 400)
    head = 0.3 * np.exp(-time / 200.0)
    test = dataclasses.replace(GOOD, riser_radius_m=0.0127, hole_radius_m=0.07, open_above_m=6.0)
    for _ in range(20):
        leak = leak_of(test, time, head, rng.normal(0.0, 0.003, time.size))
        share = leak.share(np.linspace(0.005, 0.995, 199))
        assert np.median(share) == 0.0
        assert share.mean() < 0.05


def test_a_coarse_balance_leaves_the_chance_as_it_was() -> None:
    """With a sd of many times its own the balance says nothing; a sharp one is believed."""
    uniform = np.linspace(0.0005, 0.9995, 1000)
    coarse = Leak(0.1, 5.0, 0.15, balanced=True).share(uniform)
    assert np.mean(coarse > 0) == pytest.approx(0.15, abs=0.01)
    sharp = Leak(0.3, 0.01, 0.15, balanced=True).share(uniform)
    assert np.mean(sharp) == pytest.approx(0.3, abs=0.01)
    assert np.std(sharp) == pytest.approx(0.01, rel=0.3)


@pytest.mark.parametrize("share", [0.0, 0.15, 0.4])
def test_leak_of_pressure_steps_comes_back(share: float) -> None:
    """Five steps; the level outside follows its own differential equation, stepped by 1 s."""
    zone, area = 2e-5, math.pi * (0.06**2 - 0.03**2)
    bare = dataclasses.replace(GOOD, hole_radius_m=0.06, open_above_m=6.0)
    loss = zone * loss_ratio(bare, *open_hole_above(bare))
    way = zone * share / (1.0 - share)
    heads = (10.0, 20.0, 30.0, 20.0, 10.0)
    level, steps, leaked, all_flow = 0.0, [], 0.0, 0.0
    for i, head in enumerate(heads):
        passed = 0.0
        for _ in range(600):
            passed += way * (head - level)
            level += (way * (head - level) - loss * level) / area
        leaked, all_flow = leaked + passed, all_flow + passed + 600 * zone * head
        steps.append(
            PressureStep(
                step=i + 1,
                flow_m3_per_s=zone * head + passed / 600,
                net_head_m=head,
                minutes=10.0,
                outside_head_m=level,
            )
        )
    test = dataclasses.replace(
        bare,
        kind="constant head",
        riser_radius_m=0.025,
        riser_outer_radius_m=0.03,
        pressure_steps=tuple(steps),
    )
    leak = step_leak(test)
    assert leak.balanced
    found = leak.mean * (1.0 - (ground := SEEN * ground_share(test))) + ground
    assert found == pytest.approx(leaked / all_flow, abs=0.03 + 0.5 * leak.sd)
    assert leak.sd < 0.25  # steady levels tell Gl/Go alone


def test_a_short_zone_feels_its_neighbours() -> None:
    """Shares sum to 1, are even about the middle, and a longer zone feels more of itself."""
    edges = np.linspace(-8.0, 14.0, 89)
    short = felt(0.0, 1.0, edges, 0.048, kv_kh=1.0)
    long = felt(0.0, 6.0, edges, 0.048, kv_kh=1.0)
    middle = 0.5 * (edges[1:] + edges[:-1])
    own = [float(s[(middle > 0) & (middle < n)].sum()) for s, n in ((short, 1.0), (long, 6.0))]
    assert short.sum() == pytest.approx(1.0)
    assert 0.7 < own[0] < 0.83 < own[1] < 0.93
    assert np.allclose(long, long[::-1], rtol=1e-6)  # the cells lie evenly about 3 m


def in_steps(heads: tuple[float, ...], outside: float | None, **changes: object) -> HydraulicTest:
    """Ten minutes each at heads in a straddle; outside the zone stands a share of the head."""
    steps = tuple(
        PressureStep(
            step=i,
            flow_m3_per_s=2e-5 * head,
            net_head_m=head,
            minutes=10.0,
            outside_head_m=None if outside is None else outside * head,
        )
        for i, head in enumerate(heads, start=1)
    )
    return dataclasses.replace(
        GOOD,
        kind="constant head",
        hole_radius_m=0.06,
        riser_radius_m=0.025,
        riser_outer_radius_m=0.03,
        open_above_m=6.0,
        pressure_steps=steps,
        **changes,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("ratio", [0.9, 0.98, 1.0])
def test_a_packer_that_does_not_seal_is_rejected(ratio: float) -> None:
    """Outside stands (nearly) the head of the zone: nothing tells the water of one from the other,
    so the pressure judges, whatever a balance makes of it.
    """
    found = analyse(in_steps((10.0, 20.0, 30.0, 20.0, 10.0), ratio), [steady_anisotropic.PLUGIN])
    assert found.grade == "rejected"


def test_steps_that_give_no_head_cost_no_leak_and_no_error() -> None:
    """A head that pipe loss has used up is refused by the methods of steps, in their words."""
    lost = dataclasses.replace(in_steps((10.0,), 0.1).pressure_steps[0], net_head_m=0.0)
    for outside in (None, 0.1):
        test = in_steps((10.0,), outside)
        step = dataclasses.replace(lost, outside_head_m=outside)
        leak = step_leak(dataclasses.replace(test, pressure_steps=(step,)))
        assert not leak.balanced
        assert leak.chance > 0


@pytest.mark.parametrize("offset_m", [0.0, 0.1, -2.5])
def test_an_offset_of_the_level_outside_is_no_leak(offset_m: float) -> None:
    """Nothing was read outside before the start: what stands there from the first reading on and
    does not move is the level at rest.
    """
    noise = 1e-3 * np.random.default_rng(4).normal(size=GOOD.elapsed_s.size)
    plain = analyse(GOOD, [METHOD])
    read = dataclasses.replace(GOOD, outside_displacement_m=offset_m + noise)
    found = analyse(read, [METHOD])
    assert plain.best is not None
    assert found.best is not None
    assert found.grade == "accepted"
    assert found.best.k_m_per_s == pytest.approx(plain.best.k_m_per_s, rel=0.05)


def test_a_level_outside_that_was_read_too_late_tells_nothing() -> None:
    """The first reading may hold the leak already: the chance of one stays."""
    outside = np.full(GOOD.elapsed_s.size, 0.0)
    outside[: outside.size // 2] = np.nan
    late = analyse(dataclasses.replace(GOOD, outside_displacement_m=outside), [METHOD])
    assert not any("the seal holds" in words for words in late.notes)
