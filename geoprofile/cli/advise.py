"""Command `advise`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.cli._step import step_command

if TYPE_CHECKING:
    from geoprofile.site import Site


def _track_record(site: Site) -> list[str]:
    from geoprofile.report.summary import records

    return [
        *_tested_holes(site),
        *_new_boreholes(site),
        *records(site),
    ]


def _tested_holes(site: Site) -> list[str]:
    """Where the holes of the proposed tests are, one a line."""
    from geoprofile.site import records_of

    rows = {row["borehole"]: row for row in records_of(site.table("next_test"))}
    return [
        f"borehole {name}: {row['x_m']:.2f}, {row['y_m']:.2f}{_degrees(row)}"
        for name, row in rows.items()
        if row["x_m"] is not None
    ]


def _new_boreholes(site: Site) -> list[str]:
    """The places for new boreholes, one a line; the table below holds the tests."""
    from geoprofile.site import records_of

    return [
        f"new borehole {row['rank']} ({row['quantity']}): {row['x_m']:.2f}, {row['y_m']:.2f}"
        f"{_degrees(row)}, {round(row['depth_m'], 2):g} m deep, zones {row['intervals']}"
        for row in records_of(site.table("next_borehole"))
    ]


def _degrees(row: Mapping[str, Any]) -> str:
    if row["longitude_deg"] is None:
        return ""
    return f" (longitude {row['longitude_deg']:.6f}, latitude {row['latitude_deg']:.6f})"


COMMAND = step_command(
    "advise",
    "Rank the next tests and boreholes.\n\n"
    "They are ranked by the expected reduction of uncertainty; it also tells how well the "
    "last forecasts did once results are in.",
    targets=("next_test", "next_borehole"),
    table="next_test",
    columns=(
        "rank",
        "borehole",
        "top_m",
        "bottom_m",
        "quantity",
        "gain_share",
        "predicted_low",
        "predicted_median",
        "predicted_high",
        "predicted_unit",
        "reason",
    ),
    draw="draw_advice",
    remarks=_track_record,
)
