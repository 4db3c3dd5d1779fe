"""Tests and new boreholes in one list: what decides most for its cost comes first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import shapely

from geoprofile.drawing.levels import SHOWN_UNITS
from geoprofile.drawing.people import now, shown_in, shown_of, translated
from geoprofile.drawing.symbols import proposal_name
from geoprofile.engine.rows import frame
from geoprofile.plugins import Layer, Progress
from geoprofile.products.advice.known import short
from geoprofile.products.advice.together import quantities_of
from geoprofile.site import Site, records_of

if TYPE_CHECKING:
    import pandas as pd

KINDS = (("next_test", "test"), ("next_borehole", "new borehole"))


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Bring the proposed tests and boreholes together by what they are worth.

    Notes
    -----
    The share of what is uncertain, added over the quantities, per unit of cost compares a test with
    a borehole, and an analyte with K. Tests are chosen as if no borehole were drilled, and
    boreholes as if no test were done: two that tell of the same ground are worth less together.
    """
    rows = [
        _step(row, table, step)
        for table, step in KINDS
        for row in sorted(records_of(site.table(table)), key=lambda r: r["rank"] or 0)
    ]
    rows.sort(key=lambda row: -(row["worth"] or 0.0))
    numbered = [{**row, "number": number} for number, row in enumerate(rows, start=1)]
    progress(1, 1)
    return {"next_step": frame("next_step", numbered, site.crs)}


def _step(row: Mapping[str, Any], table: str, step: str) -> dict[str, Any]:
    is_test = step == "test"
    place = shapely.get_coordinates(row["geometry"], include_z=True)[0]
    kept = ("cost", "worth", "reason", "x_m", "y_m", "longitude_deg", "latitude_deg")
    return {
        **{name: row.get(name) for name in kept},
        "step": step,
        "label": proposal_name(table, row["rank"]),
        "borehole": row["borehole"] if is_test else None,
        "zones": f"{row['top_m']:.2f}-{row['bottom_m']:.2f}" if is_test else row["intervals"],
        "depth_m": None if is_test else row["depth_m"],
        "quantities": quantities_of(dict(row)),
        "geometry": shapely.Point(*place),
    }


def steps_in_words(site: Site) -> tuple[str, ...]:
    """The list of proposals, a line for each.

    Parameters
    ----------
    site : Site
        Tables next_step and next_test_quantity.

    Returns
    -------
    tuple of str
        Number, what, where with coordinates, what for and why, and what a test is expected to
        find; the best for its cost first.
    """
    rows = sorted(records_of(site.table("next_step")), key=lambda row: row["number"])
    found: dict[str, list[str]] = {}
    with shown_in(shown_of(site)):
        for row in records_of(site.table("next_test_quantity")):
            found.setdefault(proposal_name("next_test", row["rank"]), []).append(_expected(row))
        return tuple(_in_words(row, found.get(row["label"], [])) for row in rows)


def _expected(row: Mapping[str, Any]) -> str:
    """For example `TCE 12 (3 to 40) µg/L`."""
    unit = row["predicted_unit"]
    low, middle, high = (
        short(now().value(row[f"predicted_{end}"], unit)) for end in ("low", "median", "high")
    )
    shown = now().unit(unit)
    return f"{row['quantity']} {middle} ({low} to {high}) {SHOWN_UNITS.get(shown, shown)}"


def _in_words(row: Mapping[str, Any], expected: Sequence[str]) -> str:
    if row["step"] == "test":
        what = translated(f"test {row['borehole']} from {row['zones'].replace('-', ' to ')} m")
    else:
        zones = ", ".join(translated(f"{zone} m") for zone in row["zones"].split("; "))
        what = translated(f"new borehole, {row['depth_m']:g} m deep") + f", zones {zones}"
    degrees = ""
    if row["longitude_deg"] is not None:
        degrees = f" (longitude {row['longitude_deg']:.6f}, latitude {row['latitude_deg']:.6f})"
    found = f"; expected (10 to 90 %): {', '.join(expected)}" if expected else ""
    return (
        f"{row['number']}. {row['label']}: {what}, at {row['x_m']:.2f}, {row['y_m']:.2f}{degrees},"
        f" for {row['quantities']}: {translated(row['reason'] or '')}{found}"
    )


PLUGIN = Layer(
    name="next_step",
    summary="proposed tests and boreholes in one list over all quantities",
    reads=("next_test", "next_borehole"),
    writes=("next_step",),
    compute=compute,
)
