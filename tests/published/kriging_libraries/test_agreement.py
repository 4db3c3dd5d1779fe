"""Ordinary kriging in three dimensions agrees with PyKrige and GSTools."""

import numpy as np
import pytest

from geoprofile import kriging

SILL, NUGGET = 0.7, 0.1


def case(seed, stretched):
    """Random data and targets; anisotropic along the axes if stretched."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, 100, (60, 3))
    value = rng.normal(size=60)
    targets = rng.uniform(0, 100, (40, 3))
    lengths = (30.0, 15.0, 5.0) if stretched else (20.0, 20.0, 20.0)
    return places, value, targets, lengths


def ours(places, value, targets, lengths, covariance):
    """Engine's mean and variance; azimuth 90 puts the long axis along easting."""
    parameters = kriging.Parameters(
        covariance=covariance,
        sill=SILL,
        nugget=NUGGET,
        length_along_m=lengths[0],
        length_across_m=lengths[1],
        length_vertical_m=lengths[2],
        azimuth_deg=90.0,
    )
    data = kriging.Data(support=kriging.Support.from_points(places), value=value)
    found = kriging.krige(data, parameters).predict(targets)
    return found.mean, found.sd**2


@pytest.mark.parametrize("covariance", ["exponential", "spherical"])
def test_agrees_with_pykrige(covariance):
    """Mean and variance to 1e-8, anisotropic; PyKrige's exponential range is three lengths."""
    pykrige = pytest.importorskip("pykrige.ok3d")
    places, value, targets, lengths = case(3, stretched=True)
    peer = pykrige.OrdinaryKriging3D(
        *places.T,
        value,
        variogram_model=covariance,
        variogram_parameters={
            "psill": SILL,
            "range": lengths[0] * (3.0 if covariance == "exponential" else 1.0),
            "nugget": NUGGET,
        },
        anisotropy_scaling_y=lengths[0] / lengths[1],
        anisotropy_scaling_z=lengths[0] / lengths[2],
        exact_values=False,
    )
    mean, variance = peer.execute("points", *targets.T)
    found = ours(places, value, targets, lengths, covariance)
    np.testing.assert_allclose(found[0], mean, atol=1e-8)
    np.testing.assert_allclose(found[1], variance - NUGGET, atol=1e-8)


@pytest.mark.parametrize(
    ("covariance", "model", "options"),
    [
        ("exponential", "Exponential", {}),
        ("spherical", "Spherical", {}),
        ("matern 3/2", "Matern", {"nu": 1.5, "rescale": 2**0.5}),
        ("matern 5/2", "Matern", {"nu": 2.5, "rescale": 2**0.5}),
    ],
)
@pytest.mark.parametrize("stretched", [False, True])
def test_agrees_with_gstools(covariance, model, options, stretched):
    """Mean and variance to 1e-8 for every model; their Matern has sqrt(nu), ours sqrt(2 nu)."""
    gstools = pytest.importorskip("gstools")
    places, value, targets, lengths = case(4, stretched)
    peer_model = getattr(gstools, model)(
        dim=3, var=SILL, len_scale=list(lengths), nugget=NUGGET, **options
    )
    peer = gstools.krige.Ordinary(peer_model, places.T, value, exact=False)
    mean, variance = peer(targets.T, return_var=True)
    found = ours(places, value, targets, lengths, covariance)
    np.testing.assert_allclose(found[0], mean, atol=1e-8)
    np.testing.assert_allclose(found[1], variance - NUGGET, atol=1e-8)
