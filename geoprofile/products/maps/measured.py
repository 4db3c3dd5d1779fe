"""Results of intervals as maps, sections and profiles show them: K, and the latest samples."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.levels import SHOWN_UNITS, tidy
from geoprofile.kept_while import made_of
from geoprofile.products.concentration.inputs import latest_round
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, PER_UG_PER_L, SOIL_GAS

if TYPE_CHECKING:
    from geoprofile.site import Site

NORMAL_95 = 1.959963984540054  # [-] standard deviations from the middle to the end of 95 %


def results_of(site: Site, quantity: str | None = None) -> list[dict[str, Any]]:
    """One row per interval and quantity; concentrations of the latest round of each analyte.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    quantity : str, optional
        K, an analyte, or an analyte with " in soil gas"; K and all analytes of water when left out.

    Returns
    -------
    list of dict
        `interval`, `borehole`, `quantity`, `round`, `value`, `low`, `high`, `limit` [unit],
        `detected`, `unit` and `label`; `low` and `high` bound 95 %.
    """
    return [dict(row) for row in _results(site, quantity)]


@made_of("interval_conductivity", "concentration")
def _results(site: Site, quantity: str | None) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    if quantity in (None, "K"):
        found += _conductivities(site)
    if quantity is not None and quantity.endswith(IN_GAS):
        found += _gas(site, quantity)
    elif quantity != "K":
        found += _concentrations(site, quantity)
    return [{**row, "label": value_label(row)} for row in found]


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
        return f"{tidy(rounded, value['unit'])} {unit}"
    limit = value["limit"]
    return "not detected" if limit is None else f"< {tidy(limit)} {unit}"


def _number(value: Any) -> float | None:
    """A float, or None where the cell is empty."""
    import pandas as pd

    return None if value is None or pd.isna(value) else float(value)


def _conductivities(site: Site) -> Iterator[dict[str, Any]]:
    """K of every interval that is not rejected."""
    for row in site.table("interval_conductivity").itertuples():
        value = _number(row.k_m_per_s)
        if value is None or row.grade == "rejected":
            continue
        yield {
            "interval": row.interval,
            "borehole": row.borehole,
            "quantity": "K",
            "round": None,
            "value": value,
            "low": _number(row.k_low_m_per_s),
            "high": _number(row.k_high_m_per_s),
            "detected": True,
            "limit": None,
            "unit": "m/s",
        }


def _concentrations(site: Site, analyte: str | None) -> Iterator[dict[str, Any]]:
    """Concentrations in water of the latest round of one analyte, or of every one."""
    table = site.table("concentration")
    table = table[table["medium"] == "water"]
    if analyte is not None:
        table = table[table["analyte"] == analyte]
    for _, rows in table.groupby("analyte", sort=True):
        latest = latest_round(rows)
        for row in rows[rows["round"] == latest].itertuples():
            yield _concentration(row)


def _gas(site: Site, quantity: str) -> Iterator[dict[str, Any]]:
    """Soil gas of the latest round of one substance, in its own unit."""
    table = site.table("concentration")
    analyte = quantity.removesuffix(IN_GAS)
    rows = table[(table["medium"] == SOIL_GAS) & (table["analyte"] == analyte)]
    for row in rows[rows["round"] == latest_round(rows)].itertuples():
        found = _concentration(row)
        told = {c: found[c] for c in ("value", "low", "high", "limit")}
        scaled = {c: None if v is None else PER_UG_PER_L * v for c, v in told.items()}
        yield {**found, **scaled, "quantity": quantity, "unit": GAS_UNIT}


def unit_of(quantity: str) -> str:
    """The unit in which a quantity is drawn: m/s, ug/L, and ug/m3 for soil gas."""
    if quantity == "K":
        return "m/s"
    return GAS_UNIT if quantity.endswith(IN_GAS) else "ug/L"


def _concentration(row: Any) -> dict[str, Any]:
    """One result; a non-detect keeps its limit and has no value."""
    value = _number(row.value_ug_per_l) if bool(row.detected) else None
    factor = 10.0 ** (NORMAL_95 * (_number(row.sd_log10) or 0.0))
    return {
        "interval": row.interval,
        "borehole": row.borehole,
        "quantity": row.analyte,
        "round": row.round,
        "value": value,
        "low": None if value is None else value / factor,
        "high": None if value is None else value * factor,
        "detected": bool(row.detected),
        "limit": _number(row.limit_ug_per_l),
        "unit": "ug/L",
    }
