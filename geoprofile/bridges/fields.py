"""Fields between wells: the bridge from the site's tables to the estimation engine and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile import geostat
from geoprofile.bridges.chemistry import criteria_ug_per_l, latest_round
from geoprofile.bridges.holes import interval_lines
from geoprofile.errors import DataError
from geoprofile.site import Site, records_of

Array = NDArray[np.float64]
K = "K"
MISSING_SD = 0.3  # [-] log10 K, where a test gives no spread of its own
QUANTILE_10 = 1.2815515655446004  # [-] normal quantile of 90 %


@dataclass(frozen=True, eq=False)
class FieldAt:
    """The field at points: arrays of shape (n,) in the quantity's unit, and on the log10 scale.

    `low` and `high` are the 10 and 90 % quantiles of the field itself, not of a new noisy test.
    """

    median: Array
    low: Array
    high: Array
    log10_mean: Array
    log10_sd: Array


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
    data: geostat.Data

    @property
    def nondetects(self) -> int:
        """How many intervals lie below their limit."""
        return int(np.isnan(self.data.value).sum())


@dataclass(frozen=True, eq=False)
class Field:
    """A fitted field of one quantity and round.

    `criterion` is the user's, in `unit`, or None.
    """

    evidence: Evidence
    model: geostat.Model
    criterion: float | None

    @property
    def quantity(self) -> str:
        """K, or the analyte."""
        return self.evidence.quantity

    @property
    def round(self) -> str | None:
        """Sampling round; None for K."""
        return self.evidence.round

    @property
    def unit(self) -> str:
        """Unit of medians and criteria."""
        return self.evidence.unit

    def at(self, points: Array) -> FieldAt:
        """Median, 10 and 90 % quantile, and log10 mean and sd.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        FieldAt
            Arrays of shape (n,) [quantity's unit].
        """
        found = self.model.predict(np.asarray(points, dtype=float))
        reach = QUANTILE_10 * found.sd
        return FieldAt(
            10.0**found.mean,
            10.0 ** (found.mean - reach),
            10.0 ** (found.mean + reach),
            found.mean,
            found.sd,
        )

    def exceedance(self, points: Array, criterion: float | None = None) -> Array:
        """Probability of lying above the criterion, non-detects included.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        criterion : float, optional [quantity's unit]
            The user's own when left out.

        Returns
        -------
        Array, shape (n,) [-]
            Probability.

        Raises
        ------
        DataError
            No criterion given and none in the table.
        """
        level = self.criterion if criterion is None else criterion
        if level is None or level <= 0:
            raise DataError(
                f"field '{self.quantity}'",
                f"criterion {level}",
                "a value above 0",
                "Add the analyte to the criterion table, or give a criterion.",
            )
        return self.model.exceedance(np.asarray(points, dtype=float), float(np.log10(level)))

    def simulate(
        self, points: Array, *, realisations: int = 100, rng: np.random.Generator
    ) -> Array:
        """Equally likely fields that honour the data.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        realisations : int [-]
            How many.
        rng : Generator
            Source of randomness.

        Returns
        -------
        Array, shape (realisations, n) [quantity's unit]
            Simulated values.
        """
        drawn = self.model.simulate(
            np.asarray(points, dtype=float), realisations=realisations, rng=rng
        )
        return np.asarray(10.0**drawn)


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
    if rows.empty:
        raise DataError(
            f"field '{quantity}'",
            "no usable interval",
            "at least two intervals with a result",
            "Load tests or results of it, or look at the findings for why they were left out.",
        )
    lines = interval_lines(site)
    _, group = np.unique(rows["borehole"].to_numpy(dtype=str), return_inverse=True)
    data = geostat.Data(
        support=geostat.Support.from_lines([lines[i] for i in rows["interval"]]),
        value=rows["value"].to_numpy(dtype=float),
        upper=rows["upper"].to_numpy(dtype=float),
        variance=rows["sd"].to_numpy(dtype=float) ** 2,
        group=group.astype(np.int64),
    )
    return Evidence(
        quantity,
        None if quantity == K else str(rows["round"].iloc[0]),
        "m/s" if quantity == K else "ug/L",
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
    table = site.table("concentration")
    used = table[(table["analyte"] == analyte) & (table["medium"] == "water")]
    chosen = latest_round(used) if round_name is None else round_name
    used = used[used["round"] == chosen]
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


@lru_cache(maxsize=4)
def fields_of(site: Site) -> tuple[Field, ...]:
    """Every fitted field of the site, K first, then the analytes by name and round.

    Parameters
    ----------
    site : Site
        Table field with its models, and the data they were fitted to.

    Returns
    -------
    tuple of Field
        Nothing is fitted again.
    """
    return tuple(_restore(site, row) for row in records_of(site.table("field")))


def field_of(site: Site, quantity: str, round_name: str | None = None) -> Field:
    """One fitted field by quantity; the latest round unless another is named.

    Parameters
    ----------
    site : Site
        Table field.
    quantity : str
        "K" or an analyte.
    round_name : str, optional
        Sampling round.

    Returns
    -------
    Field
        The fitted field.

    Raises
    ------
    DataError
        No such field, with the ones there are.
    """
    fitted = fields_of(site)
    same = [f for f in fitted if f.quantity == quantity and round_name in (None, f.round)]
    if same:
        return max(same, key=lambda f: _round_time(site, f))
    names = ", ".join(sorted({f.quantity for f in fitted})) or "none yet"
    raise DataError(
        "fields",
        f"'{quantity}'" + (f" in round '{round_name}'" if round_name else ""),
        f"one of {names}",
        "Check the name, or run `geoprofile interpolate` first.",
    )


def _round_time(site: Site, field: Field) -> str:
    table = site.table("concentration")
    same = table[(table["analyte"] == field.quantity) & (table["round"] == field.round)]
    return str(same["sampled_at"].max()) if len(same) else ""


def _restore(site: Site, row: Mapping[str, Any]) -> Field:
    evidence = evidence_of(site, row["quantity"], row["round"])
    model = geostat.Model.from_json(row["model"], evidence.data)
    criterion = criteria_ug_per_l(site).get(evidence.quantity)
    return Field(evidence, model, criterion)
