"""The forecast of what a test would teach, against brute force over its possible results."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import norm

from geoprofile import kriging
from geoprofile.kriging.predict.predictor import Member

NOISE = 0.02
THRESHOLD = 0.3


def krige_with(data, parameters, spot, value):
    """The member after one more result."""
    lines = (*data.support.lines, spot[None])
    more = kriging.Data(
        support=kriging.Support(lines),
        value=np.append(data.value, value),
        variance=np.append(data.variance, NOISE),
    )
    return kriging.krige(more, parameters).members[0]


def mixed(data, members, weights):
    """Several known models with weights."""
    return kriging.Model(
        data=data,
        prior=kriging.Prior(),
        mean="constant",
        members=tuple(members),
        weights=tuple(weights),
    )


def wrong(model, cells):
    """Expected number of cells on the wrong side."""
    chance = model.exceedance(cells, THRESHOLD)
    return float(np.minimum(chance, 1.0 - chance).sum())


def brute_force(data, kinds, weights, spot, cells):
    """Fall of what is wrong, averaged over the results that the members predict."""
    members = [kriging.krige(data, kind).members[0] for kind in kinds]
    support = kriging.Support.from_points(spot[None])
    seen = [member.at(support) for member in members]
    middle = [float(means[0, 0]) for means, _ in seen]
    spread = [
        float(np.sqrt(var[0] + kind.nugget + NOISE))
        for (_, var), kind in zip(seen, kinds, strict=True)
    ]
    after = 0.0
    scores = ndtri((np.arange(45) + 0.5) / 45)
    for weight, mean, sd in zip(weights, middle, spread, strict=True):
        for score in scores:
            value = mean + sd * score
            density = np.array(weights) * norm.pdf(value, middle, spread)
            updated = [krige_with(data, kind, spot, value) for kind in kinds]
            model = mixed(updated[0].data, updated, density / density.sum())
            after += weight / len(scores) * wrong(model, cells)
    return wrong(mixed(data, members, weights), cells) - after


@pytest.mark.parametrize("weights", [(1.0,), (0.5, 0.5), (0.8, 0.2)])
def test_forecast_is_the_mean_over_all_results(detected, truth, cells, weights):
    """One model: within 2 % of brute force; two that disagree: within 12 %."""
    other = replace(truth, sill=0.3, length_along_m=150.0, length_across_m=90.0, azimuth_deg=150.0)
    kinds = (truth, other)[: len(weights)]
    spot = np.array([150.0, 150.0, -6.0])
    near = cells[np.linalg.norm((cells - spot) / [60, 60, 5], axis=1) < 1.5]
    members = [kriging.krige(detected, kind).members[0] for kind in kinds]
    assert all(isinstance(member, Member) for member in members)
    batch = kriging.next_tests(
        mixed(detected, members, weights),
        kriging.Support.from_points(spot[None]),
        near,
        THRESHOLD,
        noise_variance=NOISE,
    )
    meant = brute_force(detected, kinds, weights, spot, near)
    assert batch.gain[0] == pytest.approx(meant, rel=0.02 if len(weights) == 1 else 0.12)


def test_share_is_of_all_that_is_wrong(fitted, cells):
    """Gain over share is the expected misclassified volume of all cells, those decided too."""
    batch = kriging.next_tests(
        fitted, kriging.Support.from_points([[150.0, 150.0, -5.0]]), cells, THRESHOLD, volume=7.0
    )
    assert batch.gain[0] / batch.share[0] == pytest.approx(7.0 * wrong(fitted, cells), rel=1e-9)
