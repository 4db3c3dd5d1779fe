"""Small synthetic sites: intervals in random boreholes, values drawn from a known covariance."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant

TRUE = kriging.Parameters(
    sill=0.6,
    nugget=0.05,
    length_along_m=60.0,
    length_across_m=30.0,
    length_vertical_m=4.0,
    azimuth_deg=60.0,
)


def build(seed=3, holes=12, depths=8, censored=0.4):
    """Data with a known truth, non-detects below one limit."""
    rng = np.random.default_rng(seed)
    spots = rng.uniform(0, 300, (holes, 2))
    lines = [
        np.array([[x, y, -3.0 * k], [x, y, -3.0 * k - 2.0]])
        for x, y in spots
        for k in range(depths)
    ]
    group = np.repeat(np.arange(holes), depths)
    support = kriging.Support.from_lines(lines)
    blank = kriging.Data(support=support, value=np.zeros(len(lines)), group=group)
    lower = System.build(Layout.of(blank, Constant(), TRUE), TRUE).lower
    value = lower @ rng.normal(size=len(lines))
    limit = np.quantile(value, censored)
    hidden = value < limit if censored else np.zeros(len(value), bool)
    return kriging.Data(
        support=support,
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, limit, np.nan),
        variance=np.full(len(value), 0.01),
        group=group,
    )


@pytest.fixture(scope="session")
def detected():
    """Every test gave a value."""
    return build(censored=0.0)


@pytest.fixture(scope="session")
def censored():
    """Four in ten lie below one limit."""
    return build()


@pytest.fixture(scope="session")
def cells():
    """Places between the boreholes."""
    return np.random.default_rng(8).uniform([0, 0, -24], [300, 300, 0], (300, 3))


@pytest.fixture(scope="session")
def fitted(censored):
    """A quadratic field fitted to censored data."""
    prior = kriging.Prior(azimuth_deg=55.0)
    return kriging.fit(censored, rng=np.random.default_rng(1), prior=prior, mean="quadratic")


@pytest.fixture(scope="session")
def truth():
    """The parameters that the data were drawn from."""
    return TRUE
