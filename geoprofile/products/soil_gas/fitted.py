"""Soil gas at any place of its maps: the model fitted again as its layer fitted it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile import kriging
from geoprofile.engine import settings_used
from geoprofile.geometry.contours import polygons
from geoprofile.products.boreholes.surfaces import Surface, ground_of
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.maps.map_band import FIXED_BANDS
from geoprofile.products.soil_gas.inputs import gas_evidence
from geoprofile.products.soil_gas.mapping import GasField, gas_bandwidth
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, PER_UG_PER_L, SOIL_GAS

if TYPE_CHECKING:
    from geoprofile.drawing.levels import Bandwidth
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
RESTS_ON = {
    "borehole": ("x", "y"),
    "interval": ("borehole", "top_m", "bottom_m"),
    "concentration": (
        "interval",
        "borehole",
        "analyte",
        "medium",
        "round",
        "detected",
        "value_ug_per_l",
        "limit_ug_per_l",
        "sd_log10",
    ),
}


@dataclass(frozen=True, eq=False)
class GasAt:
    """Values at points, arrays of shape (n,): median [ug/m3], sd of log10 [-]."""

    median: Array
    log10_sd: Array


@dataclass(frozen=True, eq=False)
class FittedGas:
    """A substance in soil gas, with the depths below ground [m] of its maps and what they show."""

    field: GasField
    ground: Surface
    depths_m: tuple[float, ...]
    shown: tuple[shapely.MultiPolygon, ...]

    @property
    def quantity(self) -> str:
        """Substance and medium."""
        return self.field.quantity

    @property
    def round(self) -> str | None:
        """Campaign."""
        return self.field.round

    @property
    def unit(self) -> str:
        """Of medians and of the criterion."""
        return GAS_UNIT

    @property
    def criterion(self) -> float | None:
        """The user's criterion for gas [ug/m3]."""
        known = self.field.criterion
        return known if known is not None and known > 0 else None

    def points(self, xy: Array, depth_m: float) -> Array:
        """Points (n, 3) at a depth below ground over xy (n, 2) [m]."""
        return np.column_stack([xy, self.ground.at(xy) - depth_m])

    def at(self, points: Array) -> GasAt:
        """Gas at points (n, 3) [m]."""
        found = self.field.model.predict(points)
        return GasAt(10.0**found.mean, found.sd)

    def exceedance(self, points: Array) -> Array:
        """Chance of exceeding the criterion at points (n, 3) [m], shape (n,)."""
        if self.criterion is None:
            return np.full(len(points), np.nan)
        return self.field.model.exceedance(points, float(np.log10(self.criterion)))

    def scale(self, statistic: str) -> Bandwidth:
        """Classes of the maps of a statistic: median, sd or probability."""
        name = "spread" if statistic == "sd" else statistic
        return FIXED_BANDS.get(name) or replace(gas_bandwidth(self.field.evidence), statistic=name)


def fit_gas(site: Site, analyte: str, seed: int, criterion_ug_per_l: float | None) -> GasField:
    """The model of a substance in gas.

    Parameters
    ----------
    site : Site
        Table concentration.
    analyte : str
        Which one.
    seed : int
        Of everything drawn at random.
    criterion_ug_per_l : float [ug/L], optional
        The user's criterion for gas.

    Returns
    -------
    GasField
        The same each time.
    """
    evidence = gas_evidence(site, analyte)
    rng = np.random.default_rng([seed, *evidence.quantity.encode()])
    model = kriging.fit(evidence.data, mean="constant", rng=rng)
    criterion = None if criterion_ug_per_l is None else PER_UG_PER_L * criterion_ug_per_l
    return GasField(evidence, model, criterion)


def fitted_gas(site: Site) -> list[FittedGas]:
    """Every substance that is mapped in soil gas.

    Parameters
    ----------
    site : Site
        Tables soil_gas_band and concentration, and the settings that the maps were made with.

    Returns
    -------
    list of FittedGas
        By name; empty where no gas is mapped, or where what the maps rest on is kept back.
    """
    bands = site.table("soil_gas_band")
    bands = bands[bands["statistic"] == "median"]
    if bands.empty or _kept_back(site):
        return []
    seed = int(settings_used(site, "soil_gas")["seed"])
    criteria, ground = criteria_ug_per_l(site, SOIL_GAS), ground_of(site)
    found = []
    for quantity, rows in bands.groupby("quantity", sort=True):
        analyte = str(quantity).removesuffix(IN_GAS)
        depths = sorted({float(d) for d in rows["depth_m"]})
        shown = tuple(
            polygons(shapely.union_all(rows.loc[rows["depth_m"] == d, "geometry"].to_numpy()))
            for d in depths
        )
        field = fit_gas(site, analyte, seed, criteria.get(analyte))
        found.append(FittedGas(field, ground, tuple(depths), shown))
    return found


def _kept_back(site: Site) -> bool:
    """Whether places or results, or values of them, are not to leave: no model without them."""
    return any(
        site.table(name).empty or not set(columns) <= set(site.table(name).columns)
        for name, columns in RESTS_ON.items()
    )
