"""Rows of each interval predicted from the other boreholes."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoprofile import kriging
from geoprofile.products.model.inputs import Evidence

NORMAL_90 = 1.2815515655446004  # [-] standard normal quantile of 90 %


def held_out_rows(evidence: Evidence, score: kriging.CrossValidation) -> list[dict[str, Any]]:
    """What was predicted for each interval without its borehole, beside what was measured.

    Parameters
    ----------
    evidence : Evidence
        The data [log10 of its unit].
    score : CrossValidation
        Of a model of these data, in their order.

    Returns
    -------
    list of dict
        Rows of `held_out` in the unit of the quantity.
    """
    value, upper = np.asarray(evidence.data.value), np.asarray(evidence.data.upper)
    reach = NORMAL_90 * score.sd
    return [
        {
            "quantity": evidence.quantity,
            "round": evidence.round,
            "unit": evidence.unit,
            "interval": evidence.intervals[i],
            "borehole": evidence.boreholes[i],
            "measured": _power(value[i]),
            "limit": _power(upper[i]),
            "predicted_median": _power(score.mean[i]),
            "predicted_low": _power(score.mean[i] - reach[i]),
            "predicted_high": _power(score.mean[i] + reach[i]),
        }
        for i in range(len(value))
    ]


def _power(log10: float) -> float | None:
    """A number from its log10; None where there is none."""
    return float(10.0**log10) if np.isfinite(log10) else None
