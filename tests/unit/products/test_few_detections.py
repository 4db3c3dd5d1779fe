"""A handful of detections is reported as it is, not fitted."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.products.model.model import FEWEST_DETECTED, _refuse_few


def evidence(detected: int, nondetects: int) -> SimpleNamespace:
    """Results of so many intervals, 1, 10, 100 ... ug/L where detected."""
    value = np.append(np.arange(detected, dtype=float), np.full(nondetects, np.nan))
    return SimpleNamespace(
        data=SimpleNamespace(value=value),
        intervals=tuple(f"Z{k}" for k in range(len(value))),
        nondetects=nondetects,
        unit="ug/L",
    )


def test_one_detection_too_few_is_refused_with_the_highest() -> None:
    """However many non-detects there are beside them."""
    few = FEWEST_DETECTED - 1
    with pytest.raises(DataError) as caught:
        _refuse_few(evidence(few, 9))
    assert f"{few} detected of {few + 9} intervals" in str(caught.value)
    assert f"in interval Z{few - 1}" in str(caught.value)


def test_enough_detections_or_none_pass() -> None:
    """None at all has words of its own elsewhere."""
    _refuse_few(evidence(FEWEST_DETECTED, 9))
    _refuse_few(evidence(0, 9))
