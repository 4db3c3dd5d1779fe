"""Laboratory results in one unit, with their rounds and criteria: the bridge from the tables."""

from __future__ import annotations

import pandas as pd

from geoprofile.site import Site, records_of
from geoprofile.units import to_ug_per_l

WATER = "water"


def criteria_ug_per_l(site: Site, medium: str = WATER) -> dict[str, float]:
    """The user's criterion of each analyte in a medium.

    Parameters
    ----------
    site : Site
        Table criterion.
    medium : str
        "water" or "soil gas"; a criterion that names none is one for water.

    Returns
    -------
    dict
        Analyte to criterion [ug/L].
    """
    return {
        r["analyte"]: to_ug_per_l(float(r["value"]), r["unit"])
        for r in records_of(site.table("criterion"))
        if (r.get("medium") or WATER) == medium
    }


def measured(site: Site) -> pd.DataFrame:
    """Results joined with their sample and interval, in ug/L, with a round for every sample.

    Parameters
    ----------
    site : Site
        Tables result, sample and interval.

    Returns
    -------
    DataFrame
        Columns of result and sample; `value_ug_per_l` and `limit_ug_per_l` [ug/L].
    """
    samples = site.table("sample").merge(
        site.intervals[["interval", "borehole", "top_m", "bottom_m"]], on="interval", how="left"
    )
    joined_rows = site.table("result").merge(samples, on="sample", suffixes=("", "_sample"))
    factor = {u: to_ug_per_l(1.0, u) for u in joined_rows["unit"].unique()}
    scale = joined_rows["unit"].map(factor).astype(float)
    months = joined_rows["sampled_at"].astype(str).str[:7]
    rounds = joined_rows["round"].where(joined_rows["round"].notna(), months)
    return joined_rows.assign(
        value_ug_per_l=joined_rows["value"].astype(float) * scale,
        limit_ug_per_l=joined_rows["limit"].astype(float) * scale,
        round=rounds,
    )


def latest_round(concentration: pd.DataFrame) -> str | None:
    """The campaign whose samples are the latest."""
    ordered = rounds_in_order(concentration)
    return ordered[-1] if ordered else None


def rounds_in_order(concentration: pd.DataFrame) -> list[str]:
    """The campaigns by the time of their latest sample, then by name."""
    if concentration.empty:
        return []
    times = concentration["sampled_at"].fillna("").astype(str)
    last = times.groupby(concentration["round"].astype(str)).max()
    return sorted(last.index, key=lambda name: (last[name], name))
