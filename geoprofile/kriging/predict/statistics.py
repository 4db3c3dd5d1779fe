"""What is asked of every cell, as functions that can be sent to another process."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.predict.doubt import narrowed
from geoprofile.kriging.predict.mixture import Part, below, both_below, moments, quantile

if TYPE_CHECKING:
    from geoprofile.kriging.predict.high_values import HighValues

Array = NDArray[np.float64]

DECIDED = 0.05  # [-] a chance below that, or above its counterpart, is an answer
# From the members' predictions of a block of m cells to columns of shape (m,).
Statistic = Callable[[Sequence[Part]], tuple[Array, ...]]


def spread_of(parts: Sequence[Part], *, high: HighValues | None = None) -> tuple[Array, Array]:
    """Mean and standard deviation.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        Two columns.
    """
    return moments(parts) if high is None else high.moments(parts)


def chance_above(
    parts: Sequence[Part], *, threshold: float, high: HighValues | None = None
) -> tuple[Array, ...]:
    """Probability of lying above a threshold.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    threshold : float [log10 unit]
        As a logarithm, like the data.
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        One column.
    """
    return (1.0 - below(parts, _fitted(parts, threshold, high)),)


def chance_believed(
    parts: Sequence[Part],
    *,
    threshold: float,
    high: HighValues | None,
    sills: tuple[float, ...],
    doubt: float,
) -> tuple[Array, ...]:
    """Probability of lying above a threshold, without the doubt about the model.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions, widened by the doubt.
    threshold, high
        As for `chance_above`.
    sills, doubt
        By which they were widened.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        One column.
    """
    return chance_above(narrowed(parts, sills, doubt), threshold=threshold, high=high)


def level_of(
    parts: Sequence[Part], *, probability: float, high: HighValues | None = None
) -> tuple[Array, ...]:
    """Level with a given probability below it.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions.
    probability : float [-]
        Between 0 and 1.
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        One column.
    """
    found = quantile(parts, probability)
    return (found if high is None else high.true(parts, found),)


def summary_of(
    parts: Sequence[Part],
    *,
    threshold: float | None,
    probabilities: tuple[float, ...],
    high: HighValues | None = None,
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
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        4 + q columns.
    """
    mean, sd = spread_of(parts, high=high)
    above = np.full_like(mean, np.nan)
    if threshold is not None:
        (above,) = chance_above(parts, threshold=threshold, high=high)
    wanted = (0.5, *probabilities)
    levels = [level_of(parts, probability=one, high=high)[0] for one in wanted]
    return (levels[0], mean, sd, above, *levels[1:])


def assumed_of(
    parts: Sequence[Part], *, threshold: float | None, high: HighValues | None = None
) -> tuple[Array, ...]:
    """Share of the doubt that lies between shapes: above one half the data hold no shape.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions, a column for each shape.
    threshold : float [log10 unit]
        The doubt is about lying above it; None: about the value.
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        One column, 0 to 1; with a threshold 0 where its side is known to `DECIDED`.

    Notes
    -----
    With p_d the chance that shape d gives, and p their mean, the share is var(p_d) / (p (1 - p)),
    as the variance of an indicator falls into that between shapes and that within.
    """
    if threshold is None:
        _, sd = moments(parts)
        within = sum((weight * s * s for weight, _, s in parts), np.zeros(1))
        return (np.clip(1.0 - within / np.maximum(sd * sd, 1e-300), 0.0, 1.0),)
    below_it, square = both_below(parts, _fitted(parts, threshold, high))
    # the chance above each draw has the same variance as the chance below it
    mean = 1.0 - below_it
    open_here = (mean > DECIDED) & (mean < 1.0 - DECIDED)
    share = (square - below_it * below_it) / np.maximum(mean * (1.0 - mean), 1e-300)
    return (np.where(open_here, np.clip(share, 0.0, 1.0), 0.0),)


def _fitted(parts: Sequence[Part], threshold: float, high: HighValues | None) -> Array | float:
    """The level of the fitted field that stands for a true one."""
    return threshold if high is None else high.fitted(parts, threshold)
