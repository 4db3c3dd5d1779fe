"""Cooper, Bredehoeft and Papadopulos (1967), table 1; numbers and what they are in source.md."""

import mpmath as mp
import numpy as np
import pytest

from geoprofile.hydraulics.curve_table import tabulate
from geoprofile.hydraulics.recovery import radial_modes, recovery
from geoprofile.validation.cases.recovery_table import (
    ABSOLUTE,
    ALPHAS,
    MISPRINTS,
    RELATIVE,
    TABLE,
    beta_of,
)


def h_over_h0(alpha: float, beta: float) -> float:
    """Ours; tau is 2 beta."""
    return float(recovery(np.array([2 * beta]), alpha, radial_modes())[0])


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"beta{row[0]}")
def test_printed_recoveries(row: tuple[float, ...]) -> None:
    """Every printed value but two is met to 1.2e-4 or 0.15 %: it was integrated by hand."""
    for alpha, printed in zip(ALPHAS, row[1:], strict=True):
        if (alpha, row[0]) not in MISPRINTS:
            found = h_over_h0(alpha, beta_of(row[0]))
            assert found == pytest.approx(printed, abs=ABSOLUTE, rel=RELATIVE), (alpha, row[0])


def test_two_misprints_are_no_more_than_misprints() -> None:
    """The two entries that do not fit are 0.15505 and 0.01979, printed 0.1554 and 0.01999."""
    assert h_over_h0(1e-3, beta_of(4.64)) == pytest.approx(0.15505, abs=6e-6)
    assert h_over_h0(1e-5, beta_of(21.5)) == pytest.approx(0.01979, abs=2e-5)


@pytest.mark.parametrize(
    ("alpha", "value"),
    [(1e-6, 0.748942), (1e-7, 0.780086), (1e-8, 0.804471), (1e-9, 0.824049), (1e-10, 0.840098)],
)
def test_small_storage_at_beta_1(alpha: float, value: float) -> None:
    """Own computation with 50 digits, to the sixth decimal."""
    assert h_over_h0(alpha, 1.0) == pytest.approx(value, abs=6e-7)


@pytest.mark.parametrize(
    ("alpha", "beta"), [(1e-10, 1e-3), (1e-10, 215.0), (1e-5, 0.3), (1e-2, 20.0), (1e3, 1e-3)]
)
def test_inversion_against_thirty_digits(alpha: float, beta: float) -> None:
    """A general library inverts the same transform with 30 digits; ours agrees to 1e-8."""
    with mp.workdps(30):

        def transform(p: mp.mpf) -> mp.mpf:
            x = mp.sqrt(mp.mpf(alpha) * p)
            return 1 / (p + 2 * x * mp.besselk(1, x) / mp.besselk(0, x))

        exact = float(mp.invertlaplace(transform, mp.mpf(beta), method="talbot", degree=36))
    assert h_over_h0(alpha, beta) == pytest.approx(exact, abs=1e-8)


def test_late_recovery_is_one_over_four_beta() -> None:
    """Late in time H/H0 tends to 1/(4 beta)."""
    assert h_over_h0(1e-5, 1e4) == pytest.approx(1 / 4e4, rel=2e-3)


@pytest.mark.parametrize("alpha", [1e-9, 1e-5, 1e-2])
def test_table_for_fitting_is_as_good_as_the_sum(alpha: float) -> None:
    """The quick curve used in fits agrees with the full inversion to 1e-6."""
    tau = np.geomspace(1e-3, 100.0, 30)
    quick = tabulate(radial_modes()).recovery(tau, alpha)
    assert quick == pytest.approx(recovery(tau, alpha, radial_modes()), abs=1e-6)
