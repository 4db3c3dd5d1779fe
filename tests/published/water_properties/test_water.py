"""Viscosity and density against handbook tables; see source.md."""

import pytest

from geoprofile.hydraulics import water


@pytest.mark.parametrize(
    ("kelvin", "micro"), [(280, 1433.7), (290, 1084.0), (300, 853.84), (310, 693.54)]
)
def test_viscosity_of_saturated_water(kelvin: float, micro: float) -> None:
    """Perry's table is met within 4e-4."""
    assert water.viscosity(kelvin - 273.15) == pytest.approx(micro * 1e-6, rel=4e-4)


@pytest.mark.parametrize(("celsius", "milli"), [(10, 1.3059), (20, 1.0016), (25, 0.8900)])
def test_viscosity_handbook_points(celsius: float, milli: float) -> None:
    """Handbook points, printed to four or five digits."""
    assert water.viscosity(celsius) == pytest.approx(milli * 1e-3, rel=1e-4)


@pytest.mark.parametrize(("celsius", "kg"), [(10, 999.703), (20, 998.207), (25, 997.047)])
def test_density(celsius: float, kg: float) -> None:
    """Printed to the gram."""
    assert water.density(celsius) == pytest.approx(kg, abs=6e-4)


def test_k_grows_with_warmth() -> None:
    """K at 20 C over K at 10 C is 1.30191, from the two properties above."""
    assert water.conductivity_at(1.0, 10.0, 20.0) == pytest.approx(1.30191, rel=1e-4)


def test_permeability() -> None:
    """1e-5 m/s at 10 C is 1.33204e-12 m2."""
    assert water.permeability(1e-5, 10.0) == pytest.approx(1.33204e-12, rel=1e-4)


def test_a_darcy_is_9_64_micrometres_per_second() -> None:
    """1 darcy at 20 C is 9.64e-6 m/s (handbook value, from memory)."""
    k = 9.64e-6
    assert water.permeability(k, 20.0) == pytest.approx(9.869233e-13, rel=2e-3)


@pytest.mark.parametrize("celsius", [-21.0, 120.0])
def test_temperature_out_of_range_is_refused(celsius: float) -> None:
    """Outside the standard there is no answer."""
    with pytest.raises(ValueError, match="outside"):
        water.viscosity(celsius)
    with pytest.raises(ValueError, match="outside"):
        water.density(celsius)
