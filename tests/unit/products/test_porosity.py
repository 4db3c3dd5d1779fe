"""Porosity by unit."""

import numpy as np
import pytest

from geoprofile.errors import UsageError
from geoprofile.products.plume.porosity import porosity_at

# ground lies at 12 m there: sand from 3 to 14 m, clay to 18 m below it
SAND, CLAY = (500_020.0, 4_000_060.0, 2.0), (500_020.0, 4_000_060.0, -4.0)
POINTS = np.array([SAND, CLAY])


def at(site, everywhere, *texts):
    """Porosity of a point in the sand and of one in the clay."""
    return list(porosity_at(site, POINTS, everywhere=everywhere, by_unit=texts))


def test_one_value_holds_everywhere(mapped_site):
    """No unit named, none needed."""
    assert at(mapped_site, 0.25) == [0.25, 0.25]


def test_a_named_unit_has_its_own_and_others_that_of_the_site(layered_site):
    """Clay named: its point takes that, the point in the sand takes the site's."""
    assert at(layered_site, 0.25, "clay=0.45") == [0.25, 0.45]
    assert at(layered_site, 0.0, "sand = 0.3", "clay=0.45") == [0.3, 0.45]


@pytest.mark.parametrize("text", ["clay", "clay=high", "clay=0", "clay=1.2", "=0.3", "marl=0.3"])
def test_a_wrong_text_is_refused(layered_site, text):
    """No number, out of bounds, no unit, or a unit that no borehole meets."""
    with pytest.raises(UsageError, match="unit_porosities"):
        at(layered_site, 0.25, text)


def test_units_that_are_not_correlated_are_refused(mapped_site):
    """A porosity by unit where no units are known says so."""
    with pytest.raises(UsageError, match="correlated between boreholes"):
        at(mapped_site, 0.25, "clay=0.45")
