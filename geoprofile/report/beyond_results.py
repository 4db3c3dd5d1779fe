"""What an extent of a plume rests on, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.schema.soil_gas import SOIL_GAS

Row = Mapping[str, Any]


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
    return f"; no result is above it, {found}: the model holds it possible where nothing was tested"
