"""An extent of a plume in words, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.drawing.people import counted_in, counted_plain
from geoprofile.drawing.symbols import tidy
from geoprofile.report.trial_sites import BEYOND
from geoprofile.schema.soil_gas import SOIL_GAS

Row = Mapping[str, Any]
LIKELY, POSSIBLE = 0.5, 0.1  # [-] chances of extents
OPEN_BELOW = 0.05  # [-] of the area, from which it is told that a plume goes on below


def extent_in_words(extent: Row, caveat: str = "") -> str:
    """Where a criterion is more likely than not exceeded: area, volume, and what both leave out.

    Parameters
    ----------
    extent : Mapping
        Row of `plume_extent`, at any depth.
    caveat : str
        Of `rests_on_model`.

    Returns
    -------
    str
        To follow the substance; amounts in ug/L, areas and volumes in the units in force.
    """
    criterion = extent["criterion_ug_per_l"]
    text = "more likely than not above "
    text += "the criterion" if criterion is None else f"{tidy(criterion)} ug/L"
    if extent["area_m2"] is not None:
        text += f" at some depth under {counted_in(extent['area_m2'], 'm2')}"
    text += caveat
    span = (extent["volume_low_m3"], extent["volume_high_m3"])
    if extent["volume_m3"] is not None:
        text += f"; expected volume {counted_in(extent['volume_m3'], 'm3', *span)}"
    if None not in span:
        low, high = (counted_plain(end, "m3", *span) for end in span)
        text += f" (10 to 90 %: {low} to {high})"
    assumed = extent.get("volume_assumed_m3")
    if assumed is not None and extent["volume_m3"]:
        share = 100 * assumed / extent["volume_m3"]
        text += f"; {share:.0f} % of it where the shape is assumed, not held by the data"
    below = extent.get("open_below_m2")
    if below is not None and extent["area_m2"] and below > OPEN_BELOW * extent["area_m2"]:
        text += f"; not bounded below under about {counted_in(below, 'm2')}, and not counted there"
    if extent.get("mass_kg") is not None:
        text += f"; {extent['mass_kg']:.2g} kg dissolved in it"
    return text


def possible_in_words(extent: Row, caveat: str = "") -> str:
    """That a plume is nowhere more likely than not, and where it is possible.

    Parameters
    ----------
    extent : Mapping
        Row of `only_possible`.
    caveat : str
        Of `rests_on_model`.

    Returns
    -------
    str
        To follow the substance; amounts in ug/L, areas in the units in force.
    """
    text = f"nowhere more likely than not above {tidy(extent['criterion_ug_per_l'])} ug/L"
    if extent["area_m2"] is not None:
        area = counted_in(extent["area_m2"], "m2")
        text += f"; a chance of 10 % or more at some depth under {area}"
    return text + caveat


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
    return text + (BEYOND if extent["probability"] >= LIKELY else "")


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
