"""Which tests next: those expected to turn most volume from wrongly to rightly classified."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from geoprofile.errors import DataError
from geoprofile.kriging.covariance.data import Batch
from geoprofile.kriging.covariance.support import Support
from geoprofile.kriging.design.current_state import CurrentState
from geoprofile.kriging.design.predictive import noise_of_tests
from geoprofile.kriging.design.preposterior import Joint

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

AT_ONCE = 64  # candidates whose gain is brought up to date together
DECIDED = 3.2  # [-] sd from the threshold: less than one chance in a thousand of being wrong


def next_tests(
    model: Model,
    candidates: Support,
    cells: Array,
    threshold: float | None,
    *,
    volume: Array | float = 1.0,
    cost: Array | None = None,
    noise_variance: Array | float | None = None,
    size: int = 1,
    unit: Sequence[int] | NDArray[np.int64] | None = None,
    workers: int | None = None,
) -> Batch:
    """The best next tests, chosen one after the other, each knowing those before it.

    Parameters
    ----------
    model : Model
        Fitted.
    candidates : Support
        m tests that could be made [m].
    cells : Array, shape (n, 3) [m]
        Where it matters to be right.
    threshold : float [log10 unit]
        That separates right from wrong; None: the variance of the field is to fall instead.
    volume : Array, shape (n,), or float [m3]
        Of each cell.
    cost : Array, shape (m,) or one per unit [any currency]
        Candidates are ranked by gain per cost.
    noise_variance : Array, shape (m,), or float [log10 squared]
        Measurement variance of the new tests; None: the median of the data's.
    size : int [-]
        How many to choose.
    unit : sequence of int, shape (m,) [-]
        Candidates made together (a whole borehole) bear the same number; None: one by one.
    workers : int [-]
        Threads; None: as many as processors.

    Returns
    -------
    Batch
        Candidates (or units) in order, gain [m3] and share [-].

    Raises
    ------
    DataError
        There are no candidates or no cells.

    Notes
    -----
    Members of a stack, draws and uncertain shapes count as one normal with the moments of their
    mixture, so a test also tells which member is right. With t = the chance of exceeding as a
    normal score and rho the share of the variance that the tests explain, the expected
    misclassification falls by (1/pi) int_0^sqrt(rho) exp(-t^2/2u^2) / sqrt(1-u^2) du; u is
    replaced by s with u^2 = s^2/(s^2 + (1-s)^2), which makes the integrand smooth.

    References
    ----------
    Chevalier et al. (2014), stepwise uncertainty reduction (from memory); closed form derived.
    """
    places = np.atleast_2d(np.asarray(cells, dtype=float))
    if not len(candidates) or not places.size:
        raise DataError(
            "next tests",
            f"{len(candidates)} candidates and {places.shape[0]} cells",
            "at least one of each",
            "Give open intervals that could be tested and the cells of the site.",
        )
    numbers = np.arange(len(candidates)) if unit is None else np.asarray(unit)
    names = np.unique(numbers)
    price = np.ones(len(names)) if cost is None else np.asarray(cost, dtype=float)
    if noise_variance is None:
        noise_variance = noise_of_tests(model)
    noise = np.broadcast_to(np.asarray(noise_variance, dtype=float), len(candidates))
    sizes = np.broadcast_to(np.asarray(volume, dtype=float), len(places))
    current_state = CurrentState.of(model, places, threshold)
    wrong = wrong_now(model, current_state, threshold)
    open_rows = open_cells(current_state)
    joint = Joint.of(
        model,
        candidates,
        places[open_rows],
        current_state.take(open_rows),
        noise,
        threshold=threshold is not None,
    )
    rows = [np.flatnonzero(numbers == name) for name in names]
    chosen, gain = _choose(joint, rows, sizes[open_rows], price, size, workers)
    shares = gain / max(float(sizes @ wrong), 1e-300)
    return Batch(names[chosen].astype(np.int64), gain, shares)


def wrong_now(model: Model, current_state: CurrentState, threshold: float | None) -> Array:
    """Chance of each cell to be on the wrong side; without a threshold its variance.

    Parameters
    ----------
    model : Model
        Fitted.
    current_state : CurrentState
        Of n cells.
    threshold : float [log10 unit]
        Or None.

    Returns
    -------
    Array, shape (n,) [-, or log10 squared]
        Before any new test.
    """
    if threshold is not None:
        return np.asarray(ndtr(-np.abs(current_state.apart)))
    weights = np.array([weight for weight in model.weights if weight])
    apart = current_state.means - weights @ current_state.means
    return np.asarray(weights @ (current_state.variance + apart**2))


def open_cells(current_state: CurrentState) -> Rows:
    """The cells that are not decided: all, if every one is.

    Parameters
    ----------
    current_state : CurrentState
        Of n cells.

    Returns
    -------
    Array of int, shape (k,) [-]
        Their rows.
    """
    rows = np.flatnonzero(np.abs(current_state.apart) < DECIDED)
    return rows if len(rows) else np.arange(len(current_state.apart))


def _choose(
    joint: Joint, rows: list[Rows], sizes: Array, price: Array, size: int, workers: int | None
) -> tuple[list[int], Array]:
    """The best units by gain per price, one after the other, and what each adds."""
    chosen: list[int] = []
    gain: list[float] = []
    worth = joint.gain(rows, sizes, workers)
    for step in range(min(size, len(rows))):
        if step:
            joint.accept(rows[chosen[-1]])
            worth[chosen] = -np.inf
            _refresh(joint, rows, sizes, worth, price, workers)
        best = int(np.argmax(worth / price))
        chosen.append(best)
        gain.append(float(worth[best]))
    return chosen, np.array(gain)


def _refresh(
    joint: Joint,
    rows: list[Rows],
    sizes: Array,
    worth: Array,
    price: Array,
    workers: int | None,
) -> None:
    """Bring the gains up to date, best first, until none that is left could be the best.

    A gain that was found before the last choice counts as a bound: what is known already is not
    learnt twice.
    """
    order = np.argsort(-worth / price, kind="stable")
    order = order[np.isfinite(worth[order])]
    fresh = -np.inf
    for first in range(0, len(order), AT_ONCE):
        some = order[first : first + AT_ONCE]
        if fresh >= (worth / price)[some[0]]:
            return
        worth[some] = joint.gain([rows[k] for k in some], sizes, workers)
        fresh = max(fresh, float(np.max(worth[some] / price[some])))
