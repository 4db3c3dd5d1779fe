"""What is not known of a place whose side of a contact is not known."""

import numpy as np
import pytest
from scipy.special import ndtr

from geoprofile.geometry.linear_surface import Cones
from geoprofile.kriging.covariance.strata import LEAST_CHANCE, Strata
from geoprofile.kriging.predict.contact_mixture import TwoSides


@pytest.fixture(scope="module")
def strata():
    """Ground at 0 m over a contact that rises and falls from hole to hole."""
    rng = np.random.default_rng(4)
    xy = rng.uniform(0, 100, (12, 2))
    flat = Cones.through(xy, np.zeros(12))
    return Strata(flat, (Cones.through(xy, -10.0 + rng.normal(size=12)),))


def test_a_contact_is_sure_in_the_holes_only(strata):
    """Close to the contact the side is unsure between holes, and known at them."""
    contact = strata.contacts[0]
    holes = np.column_stack([contact.xy, contact.at(contact.xy) + 0.01])
    assert len(strata.across(holes).rows) == 0
    between = np.array([[50.0, 50.0, float(contact.at(np.array([[50.0, 50.0]]))[0]) + 0.01]])
    assert strata.across(between).chance == pytest.approx(0.5, abs=0.05)


def test_the_place_across_lies_in_the_other_layer(strata):
    """Each place that may lie across has its counterpart on the other side, nearby."""
    xyz = np.random.default_rng(5).uniform([0, 0, -14], [100, 100, -6], (400, 3))
    found = strata.across(xyz)
    assert 50 < len(found.rows) < 400
    assert (strata.number(found.places) != strata.number(xyz[found.rows])).all()
    assert found.chance.min() > LEAST_CHANCE
    far = np.setdiff1d(np.arange(400), found.rows)
    tops = strata.tops(xyz[far, :2])[:, 1]
    gap = np.abs(xyz[far, 2] - tops) / np.maximum(strata.contacts[0].sd(xyz[far, :2]), 1e-9)
    assert (ndtr(-gap) <= LEAST_CHANCE).all()


def test_ground_without_contacts_is_sure():
    """One layer has no other side."""
    one = Strata(Cones.through(np.zeros((1, 2)), np.zeros(1)), ())
    assert len(one.across(np.zeros((3, 3))).rows) == 0


def test_moments_and_quantiles_are_those_of_draws():
    """Against a million draws from the mixture, within four standard errors or so."""
    two = TwoSides(*(np.array([v]) for v in (0.3, -4.0, 0.2, -6.0, 0.5)))
    rng = np.random.default_rng(6)
    other = rng.random(1_000_000) < 0.3
    drawn = np.where(other, rng.normal(-6.0, 0.5, 1_000_000), rng.normal(-4.0, 0.2, 1_000_000))
    mean, sd = two.moments()
    assert mean[0] == pytest.approx(drawn.mean(), abs=0.005)
    assert sd[0] == pytest.approx(drawn.std(), rel=0.005)
    for probability in (0.1, 0.5, 0.9):
        assert two.quantile(probability)[0] == pytest.approx(
            np.quantile(drawn, probability), abs=0.01
        )


def test_a_sure_side_has_its_own_quantiles():
    """With no chance of the other side the normal's own quantiles come back."""
    two = TwoSides(*(np.array([v]) for v in (0.0, 1.0, 0.3, 5.0, 1.0)))
    assert two.quantile(0.9)[0] == pytest.approx(1.0 + 0.3 * 1.2815515655, abs=1e-6)
