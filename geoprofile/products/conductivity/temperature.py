"""K at another water temperature, and the permeability, on request."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def at_temperature(site: Site, celsius: float) -> tuple[list[str], list[tuple[Any, ...]]]:
    """K of every interval at a water temperature, beside K in place and the permeability.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and test.
    celsius : float [degC]
        Water temperature, 0 to 40.

    Returns
    -------
    tuple of list of str and list of tuple
        Names and rows; an interval whose tests have no water temperature has no such K.

    References
    ----------
    K mu / (rho g) is the permeability; viscosity of IAPWS SR6-08(2011), density of Tanaka et al.
    (2001).
    """
    from geoprofile.hydraulics.water import conductivity_at, permeability

    warm: dict[str, list[float]] = {}
    for test in records_of(site.tests):
        if test["water_temperature_c"] is not None:
            warm.setdefault(test["interval"], []).append(float(test["water_temperature_c"]))
    rows = []
    for row in records_of(site.conductivity):
        found = warm.get(row["interval"])
        k, place = row["k_m_per_s"], sum(found) / len(found) if found else None
        there = inside = None
        if k is not None and place is not None:
            there, inside = conductivity_at(k, place, celsius), permeability(k, place)
        rows.append((row["interval"], k, place, there, inside, row["grade"]))
    wanted = f"k_at_{celsius:g}_c_m_per_s"
    names = ["interval", "k_m_per_s", "water_temperature_c", wanted, "permeability_m2", "grade"]
    return names, rows
