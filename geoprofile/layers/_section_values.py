"""Results of the intervals that a section shows, as rows of `section_interval`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.layers._rows import number
from geoprofile.levels import SHOWN_UNITS, tidy
from geoprofile.sections import Section

if TYPE_CHECKING:
    from geoprofile.site import Site

NORMAL_95 = 1.959963984540054  # [-] standard deviations from the middle to the end of 95 %


def interval_rows(site: Site, section: Section, start: float) -> list[dict[str, Any]]:
    """K and the latest concentrations of every interval shown in a section.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    section : Section
        Gives the intervals.
    start : float [m]
        Where the section begins on the sheet.

    Returns
    -------
    list of dict
        Rows with shapes on the sheet [m]; values in the unit of each row.
    """
    import shapely

    shown = {one.interval: one for one in section.intervals}
    rows = []
    for value in (*_conductivities(site), *_concentrations(site)):
        one = shown.get(value["interval"])
        if one is None:
            continue
        rows.append(
            {
                **value,
                "section": section.name,
                "borehole": one.borehole,
                "label": value_label(value),
                "projection_distance_m": one.projection_m,
                "geometry": shapely.LineString(np.add(one.line, (start, 0.0))),
            }
        )
    return rows


def value_label(value: Mapping[str, Any]) -> str:
    """A result in words: "12 µg/L", or "< 0.5 µg/L" for a non-detect.

    Parameters
    ----------
    value : Mapping
        `value`, `limit` and `unit` [unit of the row].

    Returns
    -------
    str
        For a label.
    """
    unit = SHOWN_UNITS.get(value["unit"], value["unit"])
    if value["value"] is not None:
        rounded = float(f"{value['value']:.2g}")
        return f"{tidy(rounded)} {unit}"
    limit = value["limit"]
    return "not detected" if limit is None else f"< {tidy(limit)} {unit}"


def _conductivities(site: Site) -> Iterator[dict[str, Any]]:
    """K of every interval that is not rejected."""
    for row in site.table("interval_conductivity").itertuples():
        value = number(row.k_m_per_s)
        if value is None or row.grade == "rejected":
            continue
        yield {
            "interval": row.interval,
            "quantity": "K",
            "round": None,
            "value": value,
            "low": number(row.k_low_m_per_s),
            "high": number(row.k_high_m_per_s),
            "detected": True,
            "limit": None,
            "unit": "m/s",
        }


def _concentrations(site: Site) -> Iterator[dict[str, Any]]:
    """Concentrations in water of the latest round of every analyte."""
    table = site.table("concentration")
    table = table[table["medium"] == "water"]
    for _, rows in table.groupby("analyte", sort=True):
        latest = rows.loc[rows["sampled_at"] == rows["sampled_at"].max(), "round"].iloc[0]
        for row in rows[rows["round"] == latest].itertuples():
            yield _concentration(row)


def _concentration(row: Any) -> dict[str, Any]:
    """One result; a non-detect keeps its limit and has no value."""
    value = number(row.value_ug_per_l) if bool(row.detected) else None
    factor = 10.0 ** (NORMAL_95 * (number(row.sd_log10) or 0.0))
    return {
        "interval": row.interval,
        "quantity": row.analyte,
        "round": row.round,
        "value": value,
        "low": None if value is None else value / factor,
        "high": None if value is None else value * factor,
        "detected": bool(row.detected),
        "limit": number(row.limit_ug_per_l),
        "unit": "ug/L",
    }
