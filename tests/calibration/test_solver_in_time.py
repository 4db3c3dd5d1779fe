"""The solver of the hard sites against closed forms and balances; quick, so in the default run.

Sources: the moving front of a held inlet (Ogata and Banks 1961, from memory); balance of water.
"""

import aquifer
import numpy as np
import pytest
import solved
from scipy.special import erfc


def test_flow_agrees_with_the_other_solver():
    """Without recharge both ways to solve for heads give the same flow through every face."""
    grid = aquifer.Grid((12, 6, 5), (5.0, 5.0, 2.0))
    k = 10.0 ** np.random.default_rng(1).uniform(-8, -4, 360)
    found, other = solved.flow(grid, k, 0.4), aquifer.darcy(grid, k, 0.4)
    for here, there in zip(found.through, other[0], strict=True):
        np.testing.assert_allclose(here, there, atol=1e-6 * np.abs(there).max())


def test_recharge_leaves_through_the_ends():
    """What falls on the top and enters at one end leaves at the other."""
    grid = aquifer.Grid((12, 6, 5), (5.0, 5.0, 2.0))
    k = 10.0 ** np.random.default_rng(2).uniform(-6, -4, 360)
    found = solved.flow(grid, k, 0.4, recharge=1e-8)
    rained = 1e-8 * 12 * 5 * 6 * 5
    assert found.outflow.sum() == pytest.approx(found.inflow.sum() + rained, rel=1e-8)


def test_a_front_moves_as_it_should():
    """Half the concentration has come as far as the water has, spread as its dispersion says."""
    grid = aquifer.Grid((120, 1, 1), (1.0, 4.0, 2.0))
    found = solved.flow(grid, np.full(120, 1e-4), 1.2)
    porosity, along = 0.25, 2.0
    speed = 1e-4 * 0.01 / porosity
    time = 60.0 / speed
    held = np.arange(120) == 0
    (c,) = solved.history(
        grid, found, [(held, 1.0, 0.0, 1e99)], [time], steps=200,
        decay=0.0, porosity=porosity, spread=(along, 0.1, 0.1),
    )  # fmt: skip
    x = grid.centres[:, 0] - 0.5
    # Implicit steps spread a front, too, by half of each; fitted fluxes by little at half a cell.
    wide = along * (1 + 0.5**2 / 12) + 0.5 * 60.0 / 200
    expected = 0.5 * erfc((x - 60.0) / (2 * np.sqrt(wide * 60.0)))
    expected += 0.5 * np.exp(x / wide) * erfc((x + 60.0) / (2 * np.sqrt(wide * 60.0)))
    np.testing.assert_allclose(c[:110], expected[:110], atol=0.02)


def test_a_long_time_is_steady():
    """After many times the way through nothing changes: the steady solver's answer."""
    grid = aquifer.Grid((20, 8, 4), (5.0, 5.0, 2.0))
    k = 1e-4 * np.exp(np.random.default_rng(3).normal(size=640))
    held = np.zeros(640, dtype=bool)
    held[64:70] = True
    spread = (2.0, 0.2, 0.02)
    steady = aquifer.transport(grid, aquifer.darcy(grid, k, 1.0), held, decay=1e-8, spread=spread)
    found = solved.flow(grid, k, 1.0)
    (c,) = solved.history(
        grid, found, [(held, 1.0, 0.0, 1e99)], [1e10], steps=8,
        decay=1e-8, porosity=0.25, spread=spread,
    )  # fmt: skip
    np.testing.assert_allclose(c, steady, atol=1e-4)


def test_a_source_that_stops_leaves_a_detached_plume():
    """The highest concentration moves away from where the source was."""
    grid = aquifer.Grid((60, 1, 1), (2.0, 4.0, 2.0))
    found = solved.flow(grid, np.full(60, 1e-4), 1.2)
    speed = 1e-4 * 0.01 / 0.25
    held = np.arange(60) == 2
    c = solved.history(
        grid, found, [(held, 1.0, 0.0, 20 / speed)], [20 / speed, 60 / speed], steps=60,
        decay=0.0, porosity=0.25, spread=(0.5, 0.1, 0.1),
    )  # fmt: skip
    assert np.argmax(c[0]) == 2
    assert np.argmax(c[1]) > 15
    # What was given is still there: nothing has reached the end yet.
    assert c[1].sum() == pytest.approx(c[0].sum(), rel=0.02)
