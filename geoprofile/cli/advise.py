"""Command `advise`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoprofile.cli._step import step_command

if TYPE_CHECKING:
    from geoprofile.site import Site


def _track_record(site: Site) -> list[str]:
    from geoprofile.report.summary import records

    return records(site)


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
