"""Mass discharge against a worked example."""

import numpy as np
import pytest

from geoprofile.products.discharge.mass_flux import mass_discharge, mass_flux, share_across

CELLS = np.array(
    [
        # K m/s, gradient, C ug/L, area m2, g/d
        (1e-4, 0.004, 120.0, 12.0, 0.0497664),
        (3e-4, 0.004, 850.0, 12.0, 1.0575360),
        (2e-5, 0.005, 15.0, 18.0, 0.0023328),
        (5e-5, 0.005, 2300.0, 18.0, 0.8942400),
    ]
)


def test_four_cells():
    """Each cell and the sum as worked out by hand."""
    k, gradient, value, area, expected = CELLS.T
    each = [
        mass_discharge([a], [c], [s], gradient=[i])
        for a, i, c, s in zip(k, gradient, value, area, strict=True)
    ]
    assert np.array(each) == pytest.approx(expected, rel=1e-9)
    assert mass_discharge(k, value, area, gradient=gradient) == pytest.approx(2.0038752, rel=1e-9)


def test_flux_of_the_first_cell():
    """120 ug/L, 1e-4 m/s and a gradient of 0.004 carry 0.0041472 g a day through a square metre."""
    assert mass_flux(1e-4, 120.0, 0.004) == pytest.approx(0.0041472, rel=1e-12)


@pytest.mark.parametrize(
    ("line", "flow", "share"), [(0, 90, 1), (0, 270, -1), (45, 45, 0), (350, 20, 0.5)]
)
def test_share_of_the_flow_across_a_line(line, flow, share):
    """Sine of the angle from line to flow, positive to the right."""
    assert share_across(line, flow) == pytest.approx(share, abs=1e-12)
