"""The solver that makes the physical sites agrees with closed forms; quick, so in the default run.

Sources: series and parallel conductances (any textbook); one-dimensional decay in steady flow (van
Genuchten & Alves 1982, from memory); spreading behind a patch (Domenico 1987, without the part
along flow, from memory).
"""

import aquifer
import numpy as np
import pytest
from scipy.special import erf

POROSITY = 0.25


def test_layers_share_flow_by_their_k():
    """Flow along layers is gradient times area times the mean of K."""
    grid = aquifer.Grid((10, 4, 6), (5.0, 4.0, 2.0))
    k = np.broadcast_to(10.0 ** -np.arange(3.0, 9.0), grid.shape).ravel()
    _, inflow, outflow = aquifer.darcy(grid, k, 0.5)
    expected = k.mean() * 0.5 / 50 * 16 * 12
    assert inflow.sum() == pytest.approx(expected, rel=1e-6)
    assert outflow.sum() == pytest.approx(expected, rel=1e-6)


def test_blocks_in_series_flow_by_their_harmonic_mean():
    """Flow across blocks is gradient times area times the harmonic mean of K."""
    grid = aquifer.Grid((12, 3, 3), (5.0, 4.0, 2.0))
    blocks = 10.0 ** -np.random.default_rng(1).uniform(3, 6, 12)
    k = np.broadcast_to(blocks[:, None, None], grid.shape).ravel()
    flows = aquifer.darcy(grid, k, 0.5)
    expected = 0.5 / 60 * 12 * 6 / np.mean(1 / blocks)
    assert flows[1].sum() == pytest.approx(expected, rel=1e-6)


def test_water_is_neither_made_nor_lost():
    """In a random aquifer what flows in flows out, and no clean cell is fouler than the source."""
    grid = aquifer.Grid((20, 10, 6), (5.0, 4.0, 2.0))
    k = 1e-4 * np.exp(np.random.default_rng(2).normal(size=1200))
    flows = aquifer.darcy(grid, k, 1.0)
    assert flows[1].sum() == pytest.approx(flows[2].sum(), rel=1e-8)
    source = np.zeros(1200, dtype=bool)
    source[400:420] = True
    found = aquifer.transport(grid, flows, source, decay=0.0, porosity=POROSITY)
    assert found.min() >= -1e-9
    assert found.max() <= 1 + 1e-9


def test_decay_along_a_column():
    """C = exp(x (1 - sqrt(1 + 4 k a / v)) / 2a) in steady flow with dispersivity a."""
    grid = aquifer.Grid((150, 1, 1), (2.0, 4.0, 2.0))
    flows = aquifer.darcy(grid, np.full(150, 1e-4), 3.0)
    source = np.arange(150) == 0
    speed, along = 1e-4 * 3.0 / 300 / POROSITY, 5.0
    decay = speed / 80
    found = aquifer.transport(
        grid, flows, source, decay=decay, porosity=POROSITY, spread=(along, 0.1, 0.1)
    )
    x = grid.centres[:, 0] - 1.0
    expected = np.exp(x / (2 * along) * (1 - np.sqrt(1 + 4 * decay * along / speed)))
    # far from the outflow; second order in the cell over the decay length
    np.testing.assert_allclose(np.log(found[:125]), np.log(expected[:125]), atol=0.005)


@pytest.mark.parametrize("shape", [(160, 61, 1), (160, 1, 61)])
def test_patch_spreads_as_error_functions(shape):
    """Behind a patch, where spreading across flow rules: half a difference of error functions."""
    grid = aquifer.Grid(shape, (0.5, 1.0, 1.0))
    flows = aquifer.darcy(grid, np.full(np.prod(shape), 1e-4), 0.8)
    x = grid.centres[:, 0] - 5.5
    across = grid.centres[:, 1 if shape[2] == 1 else 2] - 30.5
    source = (np.abs(x + 0.25) < 0.1) & (np.abs(across) < 7.6)
    found = aquifer.transport(
        grid, flows, source, decay=0.0, porosity=POROSITY, spread=(0.5, 0.2, 0.2)
    )
    there = (x > 20) & (x < 70)
    width = 2 * np.sqrt(0.2 * x[there])
    across = across[there]
    expected = 0.5 * (erf((across + 7.5) / width) - erf((across - 7.5) / width))
    # the closed form neglects spreading along flow, and the held cells leak through their sides
    np.testing.assert_allclose(found[there], expected, atol=0.03)
