"""What few boreholes cost: the score beside that of the true parameters.

The goal is the project's own; the test prints the figure that it judges.
"""

from dataclasses import replace

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant

pytestmark = pytest.mark.calibration


TRUE = kriging.Parameters(
    sill=0.5,
    nugget=0.05,
    length_along_m=60,
    length_across_m=30,
    length_vertical_m=5,
    azimuth_deg=40,
)


def drawn(rng, holes):
    """Tests in random holes of a field of known covariance, and its values at 200 other places."""
    spots = rng.uniform(0, 200, (holes, 2))
    tops = [[x, y, -2.0 * k] for x, y in spots for k in range(10)]
    lines = [np.array([t, [t[0], t[1], t[2] - 1.5]]) for t in tops]
    points = rng.uniform([0, 0, -20], [200, 200, 0], (200, 3))
    both = kriging.Support.from_lines([*lines, *(p[None] for p in points)])
    blank = kriging.Data(support=both, value=np.zeros(len(both)))
    quiet = replace(TRUE, nugget=1e-8)
    layout = Layout.of(blank, Constant(), quiet)
    value = System.build(layout, quiet).lower @ rng.normal(size=len(both))
    data = kriging.Data(
        support=kriging.Support.from_lines(lines),
        value=value[: len(lines)] + TRUE.nugget**0.5 * rng.normal(size=len(lines)),
        group=np.repeat(np.arange(holes), 10),
    )
    return data, points, value[len(lines) :]


def log_score(model, points, value):
    """Mean of -ln density of the true values, but for a constant."""
    found = model.predict(points)
    z = (value - found.mean) / found.sd
    return np.mean(0.5 * z**2 + np.log(found.sd))


@pytest.mark.parametrize("holes", [5, 8, 12])
def test_few_boreholes_cost_little_score(holes):
    """Goal: log score at unsampled places at most 0.05 above that of the true parameters."""
    excess = []
    for seed in range(40):
        rng = np.random.default_rng([seed, holes])
        data, points, value = drawn(rng, holes)
        prior = kriging.Prior(azimuth_deg=40 + 10 * rng.normal())
        model = kriging.fit(data, rng=rng, prior=prior)
        best = kriging.krige(data, TRUE)
        excess.append(log_score(model, points, value) - log_score(best, points, value))
    print(holes, "boreholes: excess log score", np.mean(excess).round(4))
    assert np.mean(excess) <= 0.05
