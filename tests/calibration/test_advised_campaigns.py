"""Advised tests against regular infill, largest variance and chance, over made-up sites.

Run on request: pytest -m calibration tests/calibration/test_advised_campaigns.py -s
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

SITES = 30
MOST = 60
NEVER = MOST + 1
JUDGED = 10  # tests whose forecasts are held against what came, whether or not the level is met
STRIDE = 5  # tests between two looks where the tests do not follow from the look

path = Path(__file__).with_name("campaign_sites.py")
spec = importlib.util.spec_from_file_location("campaign_sites", path)
sites = importlib.util.module_from_spec(spec)
sys.modules["campaign_sites"] = sites
spec.loader.exec_module(sites)


def campaign(site, level, seed, *, mean):
    """One advised test after the other until the map is as good as `level` [m3], `JUDGED` at least.

    Tests needed, and what the first `JUDGED` tests made of the misclassified volume [m3]: its fall
    as predicted test by test, in truth, and as the fields themselves expect it.
    """
    index = site.started
    model = sites.fitted(site, index, seed, mean)
    true, expected = [np.array([v]) for v in sites.misclassified(site, model)]
    predicted = np.empty(0)
    while len(predicted) < MOST and (len(predicted) < JUDGED or true.min() > level):
        more, gain = sites.advised(site, model, index, 1)
        index = np.append(index, more)
        model = sites.fitted(site, index, seed, mean)
        now, left = sites.misclassified(site, model)
        predicted = np.append(predicted, gain)
        true, expected = np.append(true, now), np.append(expected, left)
    reached = np.flatnonzero(true <= level)
    needed = int(reached[0]) if len(reached) else NEVER
    return (
        needed,
        predicted[:JUDGED].sum(),
        true[0] - true[JUDGED],
        expected[0] - expected[JUDGED],
    )


def matched(seed, *, mean):
    """What `campaign` gives for a site, with the level that 60 tests of a regular infill reach."""
    site = sites.campaign_site(seed)
    index = np.append(site.started, sites.regular(site, site.started, MOST))
    level, _ = sites.misclassified(site, sites.fitted(site, index, seed, mean))
    return campaign(site, level, seed, mean=mean)


def halved(seed, strategy, *, mean):
    """Tests until the misclassified volume of a site is half that of the start."""
    site, rng = sites.campaign_site(seed), np.random.default_rng([seed, 9])
    index = site.started
    model = sites.fitted(site, index, seed, mean)
    goal = 0.5 * sites.misclassified(site, model)[0]
    stride = 1 if strategy == "advised" else STRIDE
    for done in range(stride, MOST + 1, stride):
        if strategy == "advised":
            more, _ = sites.advised(site, model, index, 1)
        elif strategy == "largest variance":
            more = sites.least_known(site, model, index, stride)
        elif strategy == "regular":
            more = sites.regular(site, index, stride)
        else:
            more = rng.choice(sites.untested(site, index), stride, replace=False)
        index = np.append(index, more)
        model = sites.fitted(site, index, seed, mean)
        if sites.misclassified(site, model)[0] <= goal:
            return done
    return NEVER


@pytest.mark.calibration
def test_a_dozen_advised_tests_do_the_work_of_sixty_on_a_grid() -> None:
    """Median tests to match 60 of a regular infill; the forecasts hold within a factor of 1.3."""
    rows = []
    for seed in range(SITES):
        rows.append(matched(seed, mean="stack"))
        print(f"site {seed}: tests, predicted, true and expected fall [m3]: {rows[-1]}", flush=True)
    needed, predicted, true, expected = np.array(rows, dtype=float).T
    print(f"median {np.median(needed)}, mean {needed.mean():.1f}, never {(needed == NEVER).sum()}")
    print(f"true over predicted {true.sum() / predicted.sum():.2f}")
    print(f"expected over predicted {expected.sum() / predicted.sum():.2f}")
    assert np.median(needed) <= 12
    assert 1 / 1.3 < true.sum() / predicted.sum() < 1.3


@pytest.mark.calibration
def test_advised_tests_halve_what_is_wrong_sooner() -> None:
    """Median tests until the misclassified volume is halved, against three other ways."""
    median = {}
    for strategy in ("advised", "regular", "largest variance", "random"):
        counts = [halved(seed, strategy, mean="quadratic") for seed in range(SITES)]
        median[strategy] = np.median(counts)
        print(f"{strategy}: median {median[strategy]}, mean {np.mean(counts):.1f}, {counts}")
    others = min(value for name, value in median.items() if name != "advised")
    assert median["advised"] <= 0.5 * others
