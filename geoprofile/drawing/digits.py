"""Numbers for people: no more figures than what is known of them."""

from __future__ import annotations

import math

NORMAL_80 = 2.5631031310892007  # [-] standard deviations that 10 to 90 % span
UNSAID = 2  # significant figures of a number whose uncertainty is not given


def known_digits(value: float, low: float | None = None, high: float | None = None) -> int:
    """Decimal place to which a number is worth telling: that of its standard deviation.

    Parameters
    ----------
    value : float
        In any unit.
    low, high : float, optional
        Its 10 and 90 % quantiles, in the same unit.

    Returns
    -------
    int
        Places after the point; negative for tens and more, as `round` takes them.

    Notes
    -----
    The uncertainty is told to one figure, the value to the same place (GUM, JCGM 100:2008, 7.2.6,
    allows two at most; from memory).

    Examples
    --------
    >>> known_digits(309365.0, 273702.0, 375663.0), known_digits(16444.0)
    (-4, -3)
    """
    spread = (high - low) / NORMAL_80 if low is not None and high is not None else 0.0
    if spread > 0 and math.isfinite(spread):
        return -math.floor(math.log10(spread))
    if value == 0 or not math.isfinite(value):
        return 0
    return UNSAID - 1 - math.floor(math.log10(abs(value)))


def counted(value: float, low: float | None = None, high: float | None = None) -> str:
    """A number with the figures that its uncertainty justifies, thousands parted by commas.

    Parameters
    ----------
    value : float
        In any unit.
    low, high : float, optional
        Its 10 and 90 % quantiles, in the same unit.

    Returns
    -------
    str
        At least one significant figure.

    Examples
    --------
    >>> counted(309365.0, 273702.0, 375663.0), counted(16444.0), counted(0.0123)
    ('310,000', '16,000', '0.012')
    """
    places = known_digits(value, low, high)
    if value != 0 and math.isfinite(value):
        places = max(places, -math.floor(math.log10(abs(value))))
    return f"{round(value, places):,.{max(0, places)}f}"
