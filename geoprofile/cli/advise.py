"""Command `advise`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoprofile.cli._step import step_command

if TYPE_CHECKING:
    from geoprofile.site import Site


def _list(site: Site) -> list[str]:
    """Every proposal in one list, the best for its cost first, then how earlier ones did."""
    from geoprofile.packers.cautions import DRILLING_CAUTION, cautions
    from geoprofile.plugins.registry import told_by_all
    from geoprofile.report.summary import records

    (steps, failed), (programme, more) = (told_by_all(k, site) for k in ("steps", "programme"))
    warned = [f"Cautions: {cautions()} New boreholes: {DRILLING_CAUTION}."] if steps else []
    return [*steps, *programme, *warned, *failed, *more, *records(site)]


COMMAND = step_command(
    "advise",
    "Rank the next tests and boreholes.\n\n"
    "They are ranked by the expected reduction of uncertainty; it also tells how well the "
    "last forecasts did once results are in. With --set field_programme.budget=40000 it makes a "
    "programme of tests and new boreholes for that money, and says where to stop.",
    targets=("next_test", "next_borehole", "next_step", "field_programme"),
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
    remarks=_list,
)
