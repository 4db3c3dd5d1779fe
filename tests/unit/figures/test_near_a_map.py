"""How far from the elevation of a map a measurement is still drawn on it."""

from __future__ import annotations

import pytest

from geoprofile.products.maps import figure_numbers


def test_the_distance_between_maps_is_the_least_one_and_two_metres_for_a_single_map() -> None:
    """At elevations above and below the datum; a choice, no source."""
    assert figure_numbers._spacing([212.0, 209.0, 202.0]) == pytest.approx(3.0)
    assert figure_numbers._spacing([-5.0, 3.0]) == pytest.approx(8.0)
    assert figure_numbers._spacing([212.0]) == pytest.approx(2.0)
