"""What an extent of a plume rests on, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.schema.soil_gas import SOIL_GAS

Row = Mapping[str, Any]
LIKELY, POSSIBLE = 0.5, 0.1  # [-] chances of extents


def rests_on_model(extent: Row, concentration: Sequence[Row]) -> str:
    """What to know of an extent where no result is above its criterion.

    Parameters
    ----------
    extent : Mapping
        Row of `plume_extent`.
    concentration : Sequence of Mapping
        Rows of `concentration`.

    Returns
    -------
    str
        To follow the words of the extent, amounts in ug/L; empty where a result is above.
    """
    values = [
        float(row["value_ug_per_l"])
        for row in concentration
        if (row["analyte"], row["round"]) == (extent["analyte"], extent["round"])
        and row["medium"] != SOIL_GAS
        and row["value_ug_per_l"] is not None
    ]
    highest = max(values, default=0.0)
    if highest > float(extent["criterion_ug_per_l"]):
        return ""
    shown = f"{float(f'{highest:.3g}'):,.9g}"
    found = f"the highest is {shown} ug/L" if values else "nothing was detected"
    text = f"; no result is above it, {found}: the model holds it possible where nothing was tested"
    # 27 % of it on the 94 sites of tests/calibration/solved_beyond.py
    often = "; on trial sites a quarter of ground so marked was above"
    return text + (often if extent["probability"] >= LIKELY else "")


def only_possible(extents: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Extents of plumes that are nowhere more likely than not.

    Parameters
    ----------
    extents : Sequence of dict
        Rows of `plume_extent`.

    Returns
    -------
    list of dict
        Rows at any depth with a chance of 10 %, of substances and rounds with no likelier one.
    """
    wide = [row for row in extents if row["surface"] == "any depth"]
    likely = {(r["analyte"], r["round"]) for r in wide if r["probability"] >= LIKELY}
    return [
        row
        for row in wide
        if row["probability"] == POSSIBLE and (row["analyte"], row["round"]) not in likely
    ]
