"""The forward model of real ground against closed forms: nothing of the program is used."""

import time

import numpy as np
import pytest
from real_ground import RealGround, held_response, slug_response
from scipy.special import k0, k1

pytestmark = pytest.mark.calibration
SURFACE = np.pi * 0.025**2


def lag(times: np.ndarray, heads: np.ndarray) -> float:
    """Time to 37 % [s]."""
    return float(np.interp(-np.exp(-1), -heads, times))


def confined(**change: float) -> RealGround:
    """A zone through the whole of a closed layer 3 m thick: radial flow."""
    values = {"top": 0.0, "bottom": 3.0, "hole": 0.05, "k": 1e-6, "surface": SURFACE, "base": 3.0}
    return RealGround(**(values | {"water_table": False, "storage": 1e-5} | change))  # type: ignore[arg-type]


def stehfest(transform, t: float, n: int = 12) -> float:  # type: ignore[no-untyped-def]
    """Inverse Laplace transform by Stehfest's sums (1970), from memory."""
    from math import factorial as f

    total = 0.0
    for i in range(1, n + 1):
        v = sum(
            j ** (n // 2) * f(2 * j)
            / (f(n // 2 - j) * f(j) * f(j - 1) * f(i - j) * f(2 * j - i))
            for j in range((i + 1) // 2, min(i, n // 2) + 1)
        )  # fmt: skip
        total += (-1) ** (i + n // 2) * v * transform(i * np.log(2) / t)
    return total * np.log(2) / t


def test_radial_slug_is_that_of_cooper_1967() -> None:
    """Cooper, Bredehoeft and Papadopulos (1967), alpha 1e-3: .5729 at T t/rc^2 = 1; from memory."""
    storage = 1e-3 * 0.025**2 / (0.05**2 * 3.0)
    g = confined(storage=storage)
    unit = 0.025**2 / (g.k * 3.0)
    times, heads, _ = slug_response(g, 20 * unit)
    for beta in (0.1, 1.0, 10.0):
        alpha = 1e-3

        def transform(p: float, alpha: float = alpha) -> float:
            q = np.sqrt(alpha * p)
            return 1.0 / (p + 2.0 * q * k1(q) / k0(q))

        exact = stehfest(transform, beta)
        found = float(np.interp(beta * unit, times, heads))
        assert found == pytest.approx(exact, abs=0.003)
        if beta == 1.0:
            assert exact == pytest.approx(0.5729, abs=0.0005)  # the printed digits


@pytest.mark.parametrize("alpha", [0.03, 0.3, 2.0])
def test_shut_in_zone_is_that_of_cooper_1967(alpha: float) -> None:
    """The same closed form where the ground stores as much as the well: every head within .4 %."""
    g = confined(storage=alpha * 0.025**2 / (0.05**2 * 3.0))
    unit = 0.025**2 / (g.k * 3.0)
    times, heads, _ = slug_response(g, 20 * unit)

    def transform(p: float) -> float:
        q = np.sqrt(alpha * p)
        return 1.0 / (p + 2.0 * q * k1(q) / k0(q))

    for wanted in (0.9, 0.7, 0.4, 0.2):
        at = float(np.interp(-wanted, -heads, times))
        assert stehfest(transform, at / unit) == pytest.approx(wanted, abs=0.004)


@pytest.mark.parametrize(("skin", "ratio"), [(0.2, 2.0), (4.0, 3.0)])
def test_skin_ring_adds_its_log_to_the_resistance(skin: float, ratio: float) -> None:
    """Hawkins (1956): s = (1/f - 1) ln(rs/rw), steady radial flow to a ring of fixed head."""
    g = confined(storage=1e-9)
    with_ring = confined(storage=1e-9, skin=skin, skin_radius=0.05 * ratio)
    _, plain, _ = held_response(g, 1e6)
    _, ringed, _ = held_response(with_ring, 1e6)
    s = (1 / skin - 1) * np.log(ratio)
    added = 2 * np.pi * 3.0 * g.k * (1 / ringed[-1] - 1 / plain[-1])
    assert added == pytest.approx(s, rel=0.01)


def test_finite_zone_is_that_of_a_spheroid() -> None:
    """Steady flow of a slender zone in free ground lies between the spheroid with its length as
    focal distance and the one inscribed, ln(L/rw) and ln(1.2 L/rw): classical potential theory.
    """
    g = RealGround(30.0, 33.0, 0.05, 1e-6, SURFACE, base=80.0, storage=1e-8)
    _, flow, _ = held_response(g, 1e7)
    p = 2 * np.pi * 3.0 * g.k / flow[-1]
    assert np.log(2 * 3.0 / 0.05) - 1.0 - 0.06 < p < np.log(3.0 / 0.05)


def test_kv_over_kh_acts_as_a_longer_zone() -> None:
    """Stretching z by sqrt(Kh/Kv) maps anisotropic ground on isotropic: exact."""
    flat = RealGround(30.0, 33.0, 0.05, 1e-6, SURFACE, base=80.0, kv_kh=0.25, storage=1e-8)
    long = RealGround(60.0, 66.0, 0.05, 1e-6, SURFACE, base=160.0, storage=1e-8)
    _, one, _ = held_response(flat, 1e7)
    _, two, _ = held_response(long, 1e7)
    assert one[-1] == pytest.approx(0.5 * two[-1], rel=0.01)


def test_water_that_leaves_through_a_leak_alone_follows_two_tanks() -> None:
    """In tight ground zone and annulus exchange: lag of A Aa / (A + Aa) / Gl, exact."""
    g = RealGround(20.0, 23.0, 0.05, 1e-14, SURFACE, leak=1e-6, annulus=4e-3, open_above=2.0)
    both = SURFACE * 4e-3 / (SURFACE + 4e-3)
    times, heads, outside = slug_response(g, 5 * both / 1e-6)
    rest = SURFACE / (SURFACE + 4e-3)
    exact = rest + (1 - rest) * np.exp(-times * 1e-6 / both)
    assert np.allclose(heads, exact, atol=0.003)
    assert outside[-1] == pytest.approx(rest, abs=0.01)


def test_pack_drains_with_the_riser() -> None:
    """With an easy way through the pack the level is that of the two areas together."""
    wide = RealGround(0.0, 3.0, 0.1, 1e-6, SURFACE + 6e-3, base=20.0)
    pack = RealGround(0.0, 3.0, 0.1, 1e-6, SURFACE, base=20.0, pack_area=6e-3, pack_link=1.0)
    t1, h1, _ = slug_response(wide, 5e4)
    t2, h2, _ = slug_response(pack, 5e4)
    h2 = h2 / h2[len(h2) // 3]
    h1 = h1 / h1[len(h1) // 3]
    later = t1 > t1[len(t1) // 3]
    assert np.allclose(np.interp(t1[later], t2, h2), h1[later], atol=0.01)


def test_grid_is_fine_enough_and_fast() -> None:
    """Half the cell size moves the time lag by under 1 %; one run takes under half a second."""
    g = RealGround(
        12.0, 15.0, 0.05, 1e-6, SURFACE, kv_kh=0.2, skin=0.3, skin_radius=0.1,
        open_above=8.0, open_below=10.0, annulus=5e-3, layers=((13.0, 13.5, 1e-5),),
    )  # fmt: skip
    start = time.perf_counter()
    times, heads, _ = slug_response(g, 2e4)
    spent = time.perf_counter() - start
    fine_times, fine, _ = slug_response(g, 2e4, per_step=12, fine=0.25, growth=1.3)
    print(f"one run {spent:.2f} s")
    assert lag(times, heads) == pytest.approx(lag(fine_times, fine), rel=0.01)
    assert spent < 2.0  # half a second on an idle core
