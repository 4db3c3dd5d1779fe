"""Command `advise`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoprofile.cli._step import step_command

if TYPE_CHECKING:
    from geoprofile.site import Site

NONE = "Nothing is proposed: geoprofile show SITE finding says why."


def _list(site: Site) -> list[str]:
    """Every proposal in one list, the best for its cost first, then the programme for a budget."""
    from geoprofile.plugins.registry import told_by_all

    (steps, failed), (programme, more) = (told_by_all(k, site) for k in ("steps", "programme"))
    lines = [*(steps or [NONE]), *failed]
    return [*lines, *(["", *programme] if programme else []), *more]


def _warned(site: Site) -> list[str]:
    """What to mind before anybody acts on the list, and how earlier advice did."""
    from geoprofile.packers.cautions import DRILLING_CAUTION, cautions
    from geoprofile.report.summary import records
    from geoprofile.report.trial_sites import GAINS

    has_steps = not site.table("next_step").empty
    warned = [f"Cautions: {cautions()} New boreholes: {DRILLING_CAUTION}.", GAINS]
    warned = warned if has_steps else []
    return [*warned, *records(site)]


COMMAND = step_command(
    "advise",
    "Rank the next tests and boreholes.\n\n"
    "They are ranked by the expected reduction of uncertainty; it also tells how well the "
    "last forecasts did once results are in. With --set field_programme.budget=40000 it makes a "
    "programme of tests and new boreholes for that money, and says where to stop.",
    targets=("next_test", "next_borehole", "next_step", "field_programme"),
    table="next_step",
    columns=(
        "number",
        "label",
        "step",
        "borehole",
        "zones",
        "depth_m",
        "quantities",
        "x_m",
        "y_m",
        "longitude_deg",
        "latitude_deg",
        "cost",
        "worth",
        "reason",
    ),
    draw="draw_advice",
    remarks=_warned,
    in_words=_list,
)
