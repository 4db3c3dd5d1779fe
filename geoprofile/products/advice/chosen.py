"""The next tests that the engine chooses; from the same ground, those of an earlier run."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from geoprofile import kriging
from geoprofile.remembered import of_records, remembered

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BATCH = of_records("batch", (kriging.Batch,), "kriging")


def next_tests(
    model: kriging.Model,
    tried: kriging.Support,
    cells: NDArray[np.float64],
    threshold: float | None,
    **how: Any,
) -> kriging.Batch:
    """What to test next, as `kriging.next_tests` chooses it.

    Parameters
    ----------
    model : Model
        Of what is asked.
    tried : Support [m]
        Candidates.
    cells : Array, shape (n, 3) [m]
        Where it matters to be right.
    threshold : float [log10 unit]
        That separates right from wrong; None for K.
    **how
        `volume` [m3], `cost`, `size` [-] and `unit` [-] of `kriging.next_tests`.

    Returns
    -------
    Batch
        Candidates in their order, gain [m3] and share [-].
    """
    compute = partial(kriging.next_tests, model, tried, cells, threshold, **how)
    name = None if model.kept is None else model.kept.lasting_name
    if name is None:
        return compute()
    batch: kriging.Batch = remembered((name, tried, cells, threshold, how), compute, BATCH)
    return batch
