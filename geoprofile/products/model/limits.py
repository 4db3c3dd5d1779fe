"""What no model can say, in words: too few detections, or a model that predicts nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoprofile.products.concentration.inputs import latest_round
from geoprofile.products.model.inputs import FEWEST_DETECTED
from geoprofile.site import Site, records_of

if TYPE_CHECKING:
    import pandas as pd


def limits_in_words(site: Site) -> tuple[str, ...]:
    """What is reported as measured values and limits only, and why."""
    return (*_unstructured(site), *_few(site))


def _unstructured(site: Site) -> list[str]:
    """Quantities whose field predicts nothing."""
    return [
        f"{row['quantity']}{_round(row['round'])}: no map, volume or discharge. From the other "
        "boreholes its results are predicted no better than by one level for all places; rely on "
        "the measured intervals."
        for row in records_of(site.table("model"))
        if row.get("shown_as") == "limits"
    ]


def _few(site: Site) -> list[str]:
    """Substances with too few detections for a field: what was found, or how low nothing was."""
    fields = site.table("model")
    fitted = set(zip(fields["quantity"], fields["round"], strict=True))
    water = site.concentration[site.concentration["medium"] == "water"]
    lines = []
    for analyte, every in water.groupby("analyte", sort=True):
        latest = every[every["round"] == latest_round(every)]
        name = str(latest["round"].iloc[0])
        hits = latest[latest["detected"].astype(bool)]
        if (analyte, name) in fitted or len(hits) >= FEWEST_DETECTED:
            continue
        lines.append(f"{analyte} ({name}): {_found(latest, hits)}")
    return lines


def _found(latest: pd.DataFrame, hits: pd.DataFrame) -> str:
    """The highest of a few detections with its place, or the highest limit."""
    if hits.empty:
        limit = latest["limit_ug_per_l"].astype(float).max()
        return f"not detected in {len(latest)} intervals, the highest limit {limit:.3g} ug/L."
    order = hits["value_ug_per_l"].astype(float).to_numpy().argmax()
    best = records_of(hits)[int(order)]
    return (
        f"detected in {len(hits)} of {len(latest)} intervals, the highest "
        f"{best['value_ug_per_l']:.3g} ug/L in {best['borehole']} at {best['top_m']:.1f} to "
        f"{best['bottom_m']:.1f} m: too few for a field, a volume or a discharge."
    )


def _round(name: str | None) -> str:
    return "" if name is None else f" ({name})"
