"""What is known of a quantity: the bridge from the site's tables to the estimation engine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile import kriging
from geoprofile.errors import DataError
from geoprofile.kept_while import made_of
from geoprofile.kriging.covariance.strata import numbers_of, shares_of
from geoprofile.kriging.covariance.support import gauss_rule
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.concentration.campaigns import is_round
from geoprofile.products.concentration.inputs import latest_round
from geoprofile.products.units.inputs import UnitSurfaces
from geoprofile.site import Site

Array = NDArray[np.float64]
K = "K"
FEWEST_DETECTED = 4  # fewer are values at places, not a field
MISSING_SD = 0.3  # [-] log10 K, where a test gives no spread of its own
CROSSING_SD = 1.0  # [-] log10, by which units next to each other differ
CROSSING_NODES = 16  # along an interval, that tell in which units it lies


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is known of one quantity in one round, ready for the engine.

    `intervals` and `boreholes` name the data in their order; `data` is on the log10 scale.
    """

    quantity: str
    round: str | None
    unit: str
    intervals: tuple[str, ...]
    boreholes: tuple[str, ...]
    data: kriging.Data

    @property
    def nondetects(self) -> int:
        """How many intervals lie below their limit."""
        return int(np.isnan(self.data.value).sum())

    def within(self, surfaces: UnitSurfaces) -> Evidence:
        """The same evidence in ground whose units the field does not cross.

        A test over parts of several units says little of any of them: what it measures lies
        somewhere between the mean of their logs and the log of the most permeable. It counts with a
        variance of its own, `CROSSING_SD` squared times the chance that two of its points lie in
        different units.
        """
        apart = self._apart(surfaces)
        variance = np.asarray(self.data.variance) + CROSSING_SD**2 * apart
        return replace(self, data=replace(self.data, strata=surfaces.strata, variance=variance))

    def in_one_unit(self, surfaces: UnitSurfaces) -> NDArray[np.bool_]:
        """Which tests lie within one unit, shape (n,)."""
        return self._apart(surfaces) < 1e-9

    def _apart(self, surfaces: UnitSurfaces) -> Array:
        """Chance that two points of an interval lie in different units, shape (n,) [-]."""
        node, weight = gauss_rule(CROSSING_NODES)
        layer = numbers_of(surfaces.strata, self.data.support.along(node))
        return np.asarray(1.0 - (shares_of(layer, weight) ** 2).sum(axis=1))


@made_of("interval_conductivity", "concentration", "borehole", "survey", "interval")
def evidence_of(site: Site, quantity: str, round_name: str | None = None) -> Evidence:
    """The data of one quantity and round, on the log10 scale, with their spread and limits.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    quantity : str
        "K" or an analyte.
    round_name : str, optional
        Sampling round; the latest when left out.

    Returns
    -------
    Evidence
        Rejected K values are left out; non-detects carry their limit and no value.

    Raises
    ------
    DataError
        Nothing known of that quantity.
    """
    rows = _k_rows(site) if quantity == K else _analyte_rows(site, quantity, round_name)
    return evidence_from(site, rows, quantity, "m/s" if quantity == K else "ug/L")


def evidence_from(site: Site, rows: pd.DataFrame, quantity: str, unit: str) -> Evidence:
    """Rows of results as evidence.

    Parameters
    ----------
    site : Site
        Gives the intervals in space.
    rows : DataFrame
        interval, borehole, value, upper and sd on the log10 scale; round where it is no K.
    quantity, unit : str
        Of the values.

    Returns
    -------
    Evidence
        In the order of the rows.

    Raises
    ------
    DataError
        No row.
    """
    if rows.empty:
        raise DataError(
            f"field '{quantity}'",
            "no usable interval",
            "at least two intervals with a result",
            "Load tests or results of it, or look at the findings for why they were left out.",
        )
    lines = interval_lines(site)
    _, group = np.unique(rows["borehole"].to_numpy(dtype=str), return_inverse=True)
    data = kriging.Data(
        support=kriging.Support.from_lines([lines[i] for i in rows["interval"]]),
        value=rows["value"].to_numpy(dtype=float),
        upper=rows["upper"].to_numpy(dtype=float),
        variance=rows["sd"].to_numpy(dtype=float) ** 2,
        group=group.astype(np.int64),
    )
    return Evidence(
        quantity,
        None if quantity == K else str(rows["round"].iloc[0]),
        unit,
        tuple(rows["interval"]),
        tuple(str(h) for h in rows["borehole"]),
        data,
    )


def _k_rows(site: Site) -> pd.DataFrame:
    table = site.table("interval_conductivity")
    used = table[(table["grade"] != "rejected") & (table["k_m_per_s"] > 0)]
    return pd.DataFrame(
        {
            "interval": used["interval"],
            "borehole": used["borehole"],
            "value": np.log10(used["k_m_per_s"].astype(float)),
            "upper": np.nan,
            "sd": used["sd_log10_k"].astype(float).fillna(MISSING_SD),
        }
    ).reset_index(drop=True)


def _analyte_rows(site: Site, analyte: str, round_name: str | None) -> pd.DataFrame:
    return analyte_rows(site, analyte, round_name, medium="water")


def analyte_rows(
    site: Site, analyte: str, round_name: str | None = None, *, medium: str
) -> pd.DataFrame:
    """Results of an analyte in one medium, for `evidence_from` [log10 ug/L].

    Parameters
    ----------
    site : Site
        Table concentration.
    analyte : str
        Which one.
    round_name : str, optional
        Campaign; the latest of that medium when left out.
    medium : str
        water or soil gas.

    Returns
    -------
    DataFrame
        interval, borehole, round, value, upper and sd; what has no logarithm is left out.
    """
    table = site.table("concentration")
    used = table[(table["analyte"] == analyte) & (table["medium"] == medium)]
    chosen = latest_round(used) if round_name is None else round_name
    used = used[[chosen is not None and is_round(name, chosen) for name in used["round"]]]
    hit = used["detected"].astype(bool)
    # a non-detect without a limit says nothing, and a value of 0 has no logarithm
    known = (hit & (used["value_ug_per_l"] > 0)) | (~hit & (used["limit_ug_per_l"] > 0))
    used, hit = used[known], hit[known]
    value = used["value_ug_per_l"].astype(float)
    limit = used["limit_ug_per_l"].astype(float)
    return pd.DataFrame(
        {
            "interval": used["interval"],
            "borehole": used["borehole"],
            "round": used["round"],
            "value": np.log10(value.where(hit)),
            "upper": np.log10(limit.where(~hit)),
            "sd": used["sd_log10"].astype(float),
        }
    ).reset_index(drop=True)
