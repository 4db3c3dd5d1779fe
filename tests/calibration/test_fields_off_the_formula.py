"""Truths that no plume formula made: no harm where there is no such plume, gain where physics rule.

Goals are the project's own; every test prints the figures that it judges.
"""

import numpy as np
import pytest
from aquifer_sites import GEOLOGIES, aquifer_site
from plume_sites import plume_site
from scores import SITES, beside_kriging

pytestmark = pytest.mark.calibration

# A third of the sites for each kind of truth.
EACH = max(SITES // 3, 1)


@pytest.mark.parametrize("kind", ["no plume", "bent", "layered fronts", "two sources"])
def test_no_harm_off_the_formula(kind):
    """Goal: at most 0.02 IoU and 0.03 log-loss worse than ordinary kriging, holes inclined."""
    sites = [plume_site(seed, kind=kind, leaning=0.3) for seed in range(300, 300 + EACH)]
    stack, plain = beside_kriging(sites)
    iou, loss, _ = (stack - plain).mean(0)
    assert iou >= -0.02
    assert loss <= 0.03


def test_gain_where_physics_made_the_plume():
    """Goal: 0.05 IoU above ordinary kriging and at most 0.9 of its log-loss, in four geologies."""
    seeds = range(max(EACH // 5, 1))
    sites = [aquifer_site(geology, seed) for geology in GEOLOGIES for seed in seeds]
    stack, plain = beside_kriging(sites)
    np.testing.assert_array_less(0.0, stack[:, 0])
    assert stack[:, 0].mean() >= plain[:, 0].mean() + 0.05
    assert stack[:, 1].mean() <= 0.9 * plain[:, 1].mean()
