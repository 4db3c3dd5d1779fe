"""What was found in soil gas, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from geoprofile.drawing import people
from geoprofile.drawing.symbols import tidy
from geoprofile.products.concentration.inputs import latest_round
from geoprofile.site import Site, records_of

if TYPE_CHECKING:
    import pandas as pd


def gas_in_words(site: Site) -> tuple[str, ...]:
    """A sentence for each substance found or looked for in soil gas.

    Parameters
    ----------
    site : Site
        Tables soil_gas and soil_gas_band.

    Returns
    -------
    tuple of str
        Empty without a sample of gas.
    """
    table = site.table("soil_gas")
    mapped = set(site.table("soil_gas_band")["quantity"])
    lines = []
    for analyte, every in table.groupby("analyte", sort=True):
        latest = every[every["round"] == latest_round(every)]
        name = f"{analyte} in soil gas"
        shown = "mapped above the water level" if name in mapped else "not mapped"
        lines.append(f"{name} ({latest['round'].iloc[0]}): {_found(latest)}; {shown}.")
    return tuple(lines)


def _found(latest: pd.DataFrame) -> str:
    """Range and place of the highest, and how many exceed the criterion for gas."""
    hits = records_of(latest[latest["detected"].astype(bool)])
    if not hits:
        limit = latest["limit_ug_per_m3"].astype(float).max()
        return f"not detected in {len(latest)} intervals, the highest limit {_figures(limit)} ug/m3"
    best = max(hits, key=lambda r: float(r["value_ug_per_m3"]))
    where = people.translated(f"at {best['top_m']:.1f} to {best['bottom_m']:.1f} m")
    text = (
        f"detected in {len(hits)} of {len(latest)} intervals, the highest {amount(best)} in "
        f"{best['borehole']} {where}"
    )
    above = [r for r in records_of(latest) if r["exceeds"] is True]
    judged = [r for r in records_of(latest) if r["exceeds"] is not None]
    if judged:
        text += f"; {len(above)} of {len(judged)} judged above the criterion for soil gas"
    return text


def _figures(value: float) -> str:
    """Three figures, plain: 20400 and not 2.04e+04."""
    return tidy(float(f"{value:.3g}"))


def amount(row: dict[str, Any]) -> str:
    """A value in ug/m3, and in ppmv where it is told."""
    text = f"{_figures(row['value_ug_per_m3'])} ug/m3"
    return text if row["value_ppmv"] is None else f"{text} ({row['value_ppmv']:.3g} ppmv)"


def basis_of_parts(site: Site, analyte: str | None = None) -> str:
    """What ppmv rest on, for the foot of a figure or table; empty where none are told.

    Parameters
    ----------
    site : Site
        Table soil_gas.
    analyte : str, optional
        One substance; all when left out.

    Returns
    -------
    str
        Molar masses, temperature and pressure.
    """
    table = site.table("soil_gas")
    table = table[table["molar_mass_g_per_mol"].notna()]
    if analyte is not None:
        table = table[table["analyte"] == analyte]
    if table.empty:
        return ""
    rows = {str(r["analyte"]): r for r in records_of(table)}
    masses = ", ".join(f"{n} {r['molar_mass_g_per_mol']:g} g/mol" for n, r in sorted(rows.items()))
    first = next(iter(rows.values()))
    return (
        f"ppmv: parts per million by volume of an ideal gas at {first['temperature_c']:g} °C and "
        f"{first['pressure_kpa']:g} kPa; {masses}."
    )
