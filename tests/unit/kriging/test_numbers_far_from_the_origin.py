"""Frames and thresholds at coordinates of a real map grid, where a wrong sign cannot hide."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.fit.data_requirements import warnings_of
from geoprofile.kriging.solve.trend import Quadratic

GRID = np.array([500_000.0, 5_300_000.0, 100.0])  # a place in a UTM zone


def _lines(origin=0.0):
    rng = np.random.default_rng(5)
    tops = rng.uniform([-80, -40, -20], [80, 40, 0], (12, 3))
    return [origin + np.array([top, top - [0, 0, 2]]) for top in tops]


def test_the_frame_of_a_parabola_moves_with_the_data():
    """Shifted by a map grid's origin, the centre moves with it and the half ranges stay."""
    here = Quadratic.around(kriging.Support.from_lines(_lines()), 30.0, 2.0)
    there = Quadratic.around(kriging.Support.from_lines(_lines(GRID)), 30.0, 2.0)
    assert there.centre - here.centre == pytest.approx(GRID, abs=1e-6)
    assert there.half == pytest.approx(here.half, rel=1e-9)


def test_the_frame_just_holds_the_data():
    """Along each axis the ends reach from -1 to 1 half ranges, at the grid's coordinates."""
    lines = _lines(GRID)
    frame = Quadratic.around(kriging.Support.from_lines(lines), 30.0, 0.0)
    scaled = frame.basis(np.concatenate(lines))[:, 1:4]
    assert scaled.min(0) == pytest.approx([-1, -1, -1], abs=1e-6)
    assert scaled.max(0) == pytest.approx([1, 1, 1], abs=1e-6)


@pytest.mark.parametrize(
    ("detected", "total", "told"), [(6, 30, False), (5, 30, True), (5, 10, False), (4, 10, True)]
)
def test_levels_are_poorly_known_below_five_or_a_fifth(detected, total, told):
    """The limits themselves are enough: five detections, and a fifth of all."""
    lines = [np.array([[10.0 * i, 0, 0], [10.0 * i, 0, -2]]) for i in range(total)]
    found = np.arange(total) < detected
    data = kriging.Data(
        support=kriging.Support.from_lines(lines),
        value=np.where(found, np.arange(total) * 0.1, np.nan),
        upper=np.where(found, np.nan, 0.0),
        group=np.arange(total),
    )
    words = " ".join(warnings_of(data))
    assert ("levels are poorly known" in words) == told
    assert "all detected values are equal" not in words


@pytest.mark.parametrize(
    ("values", "told"), [([0.4] * 6, True), ([0.4], False), ([0.4, 0.5], False)]
)
def test_equal_values_are_told_where_there_are_two_or_more(values, told):
    """One value has no spread to speak of; two that differ have one."""
    lines = [np.array([[10.0 * i, 0, 0], [10.0 * i, 0, -2]]) for i in range(len(values))]
    data = kriging.Data(support=kriging.Support.from_lines(lines), value=np.array(values))
    assert ("all detected values are equal" in " ".join(warnings_of(data))) == told
