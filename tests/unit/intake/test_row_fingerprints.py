"""The same value has the same text, however it is written."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoprofile.intake.row_fingerprints import NOTHING, texts_of
from geoprofile.schema import Column


def test_a_zero_has_no_sign_and_an_empty_cell_is_nothing() -> None:
    """-0 of a spreadsheet is the 0 that the database gives back."""
    cells = texts_of(pd.Series([-0.0, 0.0, np.nan, 1.5]), Column("top_m", "real", "m", "Top"))
    assert cells == ["0.0", "0.0", NOTHING, "1.5"]
