"""What is asked of every cell, as functions that can be sent to another process."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from geoprofile.geostat.mixture import Part, below, moments, quantile

Array = NDArray[np.float64]

# From the members' predictions of a block of m cells to columns of shape (m,).
Wanted = Callable[[Sequence[Part]], tuple[Array, ...]]


def chance_above(parts: Sequence[Part], *, threshold: float) -> tuple[Array, ...]:
    """Probability of lying above a threshold.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    threshold : float [log10 unit]
        As a logarithm, like the data.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        One column.
    """
    return (1.0 - below(parts, threshold),)


def level_of(parts: Sequence[Part], *, probability: float) -> tuple[Array, ...]:
    """Level with a given probability below it.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    probability : float [-]
        Between 0 and 1.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        One column.
    """
    return (quantile(parts, probability),)


def summary_of(
    parts: Sequence[Part], *, threshold: float | None, probabilities: tuple[float, ...]
) -> tuple[Array, ...]:
    """Median, mean, sd, exceedance, and further quantiles.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    threshold : float [log10 unit]
        None: exceedance is NaN.
    probabilities : tuple of float, shape (q,) [-]
        Of the further quantiles.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        4 + q columns.
    """
    mean, sd = moments(parts)
    above = np.full_like(mean, np.nan)
    if threshold is not None:
        (above,) = chance_above(parts, threshold=threshold)
    levels = [quantile(parts, probability) for probability in (0.5, *probabilities)]
    return (levels[0], mean, sd, above, *levels[1:])


def assumed_of(parts: Sequence[Part]) -> tuple[Array, ...]:
    """Share of the variance that lies between shapes: above one half the data hold no shape.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions, a column for each shape.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        One column, 0 to 1.
    """
    _, sd = moments(parts)
    within = sum((weight * s * s for weight, _, s in parts), np.zeros(1))
    return (np.clip(1.0 - within / np.maximum(sd * sd, 1e-300), 0.0, 1.0),)
