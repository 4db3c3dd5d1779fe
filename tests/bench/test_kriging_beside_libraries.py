"""Time beside three general libraries, as ratios of processor time at equal answers.

Peers are timed on fewer cells and scaled up: their time grows in proportion to the cells.
"""

import numpy as np
import pytest
from kriging_cases import MILLION, cost, grid, known, told, turned

pytestmark = pytest.mark.bench


def gstools_peer(model):
    """GSTools with its fastest backend, ordinary kriging."""
    gstools = pytest.importorskip("gstools")
    pytest.importorskip("gstools_core")
    gstools.config.USE_GSTOOLS_CORE = True
    peer_model = gstools.Exponential(dim=3, var=1.0, len_scale=[80, 40, 4], nugget=0.1)
    places = turned(model.data.support.centre).T
    return gstools.krige.Ordinary(peer_model, places, model.data.value, exact=False)


def pykrige_peer(model):
    """PyKrige, ordinary kriging; its exponential range is three lengths."""
    ok3d = pytest.importorskip("pykrige.ok3d")
    return ok3d.OrdinaryKriging3D(
        *turned(model.data.support.centre).T, model.data.value, variogram_model="exponential",
        variogram_parameters={"psill": 1.0, "range": 240.0, "nugget": 0.1},
        anisotropy_scaling_y=2.0, anisotropy_scaling_z=20.0, exact_values=False,
    )  # fmt: skip


def sklearn_peer(model):
    """A Gaussian process of scikit-learn: kriging with a known mean of zero."""
    process = pytest.importorskip("sklearn.gaussian_process")
    kernel = process.kernels.Matern(length_scale=[80, 40, 4], nu=0.5)
    peer = process.GaussianProcessRegressor(kernel, alpha=0.1, optimizer=None)
    return peer.fit(turned(model.data.support.centre), model.data.value)


def test_a_million_cells_beside_gstools():
    """1000 data: goal 250 times GSTools."""
    model, cells = known(1000), grid()
    peer = gstools_peer(model)
    model.predict(cells[:20_000])
    ours = cost(lambda: model.predict(cells))
    few = cells[::400]
    found = []
    theirs = cost(lambda: found.extend(peer(turned(few).T, return_var=True)))
    exact = model.predict(few, exact=True)
    np.testing.assert_allclose(exact.mean, found[0], atol=1e-8)
    np.testing.assert_allclose(exact.sd**2, found[1] - 0.1, atol=1e-8)  # theirs holds the nugget
    assert told("GSTools, 1000 data", ours, theirs.times(MILLION / len(few))) >= 250


def test_a_million_cells_beside_pykrige():
    """1000 data: goal 60 times PyKrige's vectorised backend, 5 with the variance from all data."""
    model, cells = known(1000), grid()
    peer = pykrige_peer(model)
    model.predict(cells[:20_000])
    ours = cost(lambda: model.predict(cells))
    whole = cost(lambda: model.predict(cells[::10], exact=True)).times(10)
    few = cells[::111][:9000]
    best, found = None, []
    for parts in (9, 3, 1):
        found.clear()
        pieces = np.split(turned(few), parts)
        took = cost(lambda: found.extend(peer.execute("points", *one.T) for one in pieces))  # noqa: B023
        best = took if best is None or took.processor < best.processor else best
    exact = model.predict(few, exact=True)
    np.testing.assert_allclose(exact.mean, found[0][0], atol=1e-8)
    np.testing.assert_allclose(exact.sd**2, found[0][1] - 0.1, atol=1e-8)
    theirs = best.times(MILLION / len(few))
    # theirs at its best number of cells a call
    assert told("PyKrige, 1000 data, variance from all of them", whole, theirs) >= 5
    assert told("PyKrige, 1000 data", ours, theirs) >= 60


def test_two_thousand_data_beside_scikit_learn():
    """2000 data: goal 60 times a Gaussian process, sd within 2 % of that from all data."""
    model, cells = known(2000), grid()
    peer = sklearn_peer(model)
    model.predict(cells[:20_000])
    ours = cost(lambda: model.predict(cells))
    few = cells[::50]
    found = []
    theirs = cost(lambda: found.extend(peer.predict(turned(few), return_std=True)))
    exact, quick = model.predict(few[::10], exact=True), model.predict(few)
    apart = np.abs(quick.sd[::10] / exact.sd - 1.0)
    print(f"\nsd error mean {apart.mean():.1e}, most {apart.max():.1e}")
    # Their mean is known to be zero, ours is estimated: that is all the difference there is.
    member = model.members[0]
    carried = member.system.cross(few[::10]) @ member.system.solved_basis
    known_mean = exact.mean - (1.0 - carried[:, 0]) * member.coefficients[0, 0]
    np.testing.assert_allclose(known_mean, found[0][::10], atol=1e-8)
    assert apart.max() <= 0.02
    assert told("scikit-learn, 2000 data", ours, theirs.times(MILLION / len(few))) >= 60
