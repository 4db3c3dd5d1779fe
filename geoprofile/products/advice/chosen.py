"""The next tests that the engine chooses; from the same ground, those of an earlier run."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from geoprofile import kriging
from geoprofile.products.advice.search import log10_criterion
from geoprofile.products.model.fitted import lasting_name
from geoprofile.remembered import of_records, remembered

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from geoprofile.products.model.fitted import Field

BATCH = of_records("batch", (kriging.Batch,), "kriging")


def next_tests(
    field: Field, tried: kriging.Support, cells: NDArray[np.float64], **how: Any
) -> kriging.Batch:
    """What to test next, as `kriging.next_tests` chooses it.

    Parameters
    ----------
    field : Field
        What is asked.
    tried : Support [m]
        Candidates.
    cells : Array, shape (n, 3) [m]
        Where it matters to be right.
    **how
        `volume` [m3], `cost`, `size` [-] and `unit` [-] of `kriging.next_tests`.

    Returns
    -------
    Batch
        Candidates in their order, gain [m3] and share [-].
    """
    threshold = log10_criterion(field)
    compute = partial(kriging.next_tests, field.model, tried, cells, threshold, **how)
    name = lasting_name(field)
    if name is None:
        return compute()
    batch: kriging.Batch = remembered((name, tried, cells, threshold, how), compute, BATCH)
    return batch
