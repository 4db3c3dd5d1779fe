"""Doubt about the model itself: predictions spread wider where no data hold them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.data import CrossValidation
from geoprofile.kriging.predict.high_values import HighValues, left_of, share_left
from geoprofile.kriging.predict.mixture import Part

Array = NDArray[np.float64]

# A field that predicts boreholes left out no better than one level would is believed by this much
# less, and one that beats it by so many nats a test by a factor e less than that. Chosen on half of
# the solved sites of tests/calibration.
MOST, PER_NAT = 0.6, 2.0
# Where no holes could be left out: about the gain of the middle one of those sites [nats].
USUAL_GAIN = 0.4
WORTH_TELLING = 1.25  # [-] times as wide, from which a reader should know


def doubt_of(left_out: CrossValidation | None) -> float:
    """How much less than it says a plume-shaped field is to be believed far from its data.

    Parameters
    ----------
    left_out : CrossValidation or None
        What halves of the boreholes predicted of each other, if they were asked.

    Returns
    -------
    float [-]
        0 to `MOST`: standard deviations far from all data are divided by 1 less this.
    """
    gain = USUAL_GAIN
    if left_out is not None and np.isfinite(left_out.log_score_constant):
        gain = max(left_out.log_score_constant - left_out.log_score, 0.0)
    return MOST * float(np.exp(-PER_NAT * gain))


def doubt_in_words(left_out: CrossValidation) -> tuple[str, ...]:
    """What a reader of the map should know of it.

    Parameters
    ----------
    left_out : CrossValidation
        What halves of the boreholes predicted of each other.

    Returns
    -------
    tuple of str
        Nothing where the spread is hardly wider; factors are numbers [-].
    """
    doubt = doubt_of(left_out)
    if not is_worth_telling(doubt):
        return ()
    factor = 1.0 / (1.0 - doubt)
    return (
        "boreholes left out are not predicted well enough to trust the shape between them: far "
        f"from all holes the spread is taken {factor:.1f} times as wide",
    )


def is_worth_telling(doubt: float) -> bool:
    """Whether a reader should know, and field work should not follow the shape alone.

    Parameters
    ----------
    doubt : float [-]
        From `doubt_of`.

    Returns
    -------
    bool
        From a quarter more of spread far from all holes.
    """
    return 1.0 / (1.0 - doubt) >= WORTH_TELLING


def trust(parts: Sequence[Part], sills: Sequence[float | Array], doubt: float) -> Array:
    """By how much distances from the mean shrink for what is to be believed.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions of m places.
    sills : sequence of float or of Array, shape (m,) [log10 squared]
        Variance of each member's residual before any data: at a point the sill, over an interval
        less.
    doubt : float [-]
        From `doubt_of`.

    Returns
    -------
    Array, shape (m,) [-]
        1 where data hold the residual, 1 less the doubt where they say nothing of it.

    Notes
    -----
    The share of the sill that the data leave stands for the distance from them, so that no length
    has to be chosen.
    """
    return np.asarray(1.0 - doubt * left_of(parts, sills))


def widened(
    parts: Sequence[Part], sills: Sequence[float | Array], doubt: float
) -> tuple[Part, ...]:
    """Predictions spread about their common mean by what the model itself may be wrong.

    Parameters
    ----------
    parts, sills, doubt
        As for `trust`.

    Returns
    -------
    tuple of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        The same mean; all distances from it divided by the trust.

    References
    ----------
    Inflation of an ensemble whose model errs (Anderson and Anderson 1999, Monthly Weather Review
    127), from memory; tied here to the left-out score.
    """
    if not doubt:
        return tuple(parts)
    less = trust(parts, sills, doubt)
    mean = centre(parts)
    return tuple(
        (w, mean[:, None] + (means - mean[:, None]) / less[:, None], sd / less)
        for w, means, sd in parts
    )


def narrowed(
    parts: Sequence[Part], sills: Sequence[float | Array], doubt: float
) -> tuple[Part, ...]:
    """Predictions without the doubt again: what `widened` was given.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        As `widened` gave them.
    sills, doubt
        As for `widened`.

    Returns
    -------
    tuple of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        The same mean; all distances from it as the members believe them.

    Notes
    -----
    With L the share of the sill that the data leave, the doubt d makes L / (1 - d L)^2 of it,
    which is solved for the smaller L.
    """
    if not doubt:
        return tuple(parts)
    now = np.maximum(share_left(parts, sills), 1e-12)
    half = doubt + 0.5 / now
    left = np.clip(1.0 / (half + np.sqrt(half * half - doubt * doubt)), 0.0, 1.0)
    believed = 1.0 - doubt * left
    mean = centre(parts)
    return tuple(
        (w, mean[:, None] + (means - mean[:, None]) * believed[:, None], sd * believed)
        for w, means, sd in parts
    )


def widened_draws(
    drawn: Iterator[tuple[slice, Array]],
    places: Array,
    believed: Callable[[Array], Sequence[Part]],
    sills: Sequence[float],
    doubt: float,
    high: HighValues | None = None,
) -> Iterator[tuple[slice, Array]]:
    """Realisations with the doubt that predictions have.

    Parameters
    ----------
    drawn : iterator of (slice, Array, shape (d, k)) [log10 unit]
        Rows of the places, and d fields there.
    places : Array, shape (m, 3) [m]
        Easting, northing, elevation.
    believed : callable
        Members' predictions of some places, without the doubt.
    sills, doubt
        As for `trust`.
    high : HighValues
        What values near and above the highest result stand for; None: for themselves.

    Yields
    ------
    tuple of slice and Array, shape (d, k) [log10 unit]
        The same fields, farther from the mean where no data hold them.
    """
    for rows, values in drawn:
        if not doubt and high is None:
            yield rows, values
            continue
        parts = believed(places[rows])
        mean = centre(parts)
        wide = mean + (values - mean) / trust(parts, sills, doubt)
        yield rows, wide if high is None else high.true(widened(parts, sills, doubt), wide)


def centre(parts: Sequence[Part]) -> Array:
    """Mean of all members.

    Parameters
    ----------
    parts : sequence of Part
        Weight, means (m, d) and spread (m,) of each member [log10 unit].

    Returns
    -------
    Array, shape (m,) [log10 unit]
        Of each cell.
    """
    return np.asarray(sum((w * means.mean(1) for w, means, _ in parts), np.zeros(1)))
