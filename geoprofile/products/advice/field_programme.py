"""What to do with a budget of money and days: tests and new boreholes in one order, then stop."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from geoprofile import kriging
from geoprofile.drawing.people import shown_in, shown_of, translated
from geoprofile.engine.rows import finding, frame
from geoprofile.kriging.design.programme import (
    LITTLE,
    NO_MORE,
    NOT_WORTH,
    SPENT,
    Limits,
    Programme,
    Question,
    programme,
    question,
)
from geoprofile.packers.cautions import DRILLING_CAUTION, cautions
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.advice.known import known_of, percent, short
from geoprofile.products.advice.pieces import Piece, pieces_of, works_of
from geoprofile.products.advice.places import PLACE_SETTINGS, places_of
from geoprofile.products.advice.proposals import reasons, wanted, with_place
from geoprofile.products.advice.search import (
    COMMON_SETTINGS,
    READ,
    K,
    Search,
    ground_that_matters,
    log10_criterion,
    search_of,
)
from geoprofile.products.model.fitted import Field, field_of
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

STOPS: Mapping[str, str] = {
    SPENT: "nothing more can be paid from what is left",
    LITTLE: "nothing left is expected to decide more than 0.1 % of what is uncertain",
    NOT_WORTH: "nothing left is worth its cost",
    NO_MORE: "all that could be proposed is in the list",
}


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Choose tests and new boreholes for a budget, in the order in which they pay.

    Notes
    -----
    All steps are chosen before any result comes. The gain is the expected fall of the volume that
    the map calls wrongly above or below the criteria, added over the analytes; without an analyte
    it is the variance of log10 K over the ground. Cost of the rig comes once, that of setting up
    once a hole; every step looks at the best one after it. Where held-out boreholes are predicted
    badly, every second step is a test that results alone call for: in the middle of a gap between a
    result above the criterion and one below, or in an untested hole beside a result above.
    """
    nothing = {"field_programme": frame("field_programme", [], site.crs)}
    if not settings["budget"]:
        return nothing
    used, _ = wanted(site)
    names = [name for name in used if name != K] or used
    if not names:
        return nothing
    search, places = search_of(site, settings), places_of(site, settings)
    fields = [field_of(site, name) for name in names]
    pieces = pieces_of(site, fields, search, places, settings)
    if not pieces:
        return {**nothing, "finding": frame("finding", [_none()], site.crs)}
    support = kriging.Support.from_lines([line for p in pieces for line in p.lines])
    asked: list[Question] = []
    beyond: list[str] = []
    for done, field in enumerate(fields, start=1):
        ground = ground_that_matters(field, search, support)
        one = question(
            field.model, support, ground.cells, log10_criterion(field), volume=ground.volumes
        )
        asked.append(one)
        beyond += _beyond_tests(field, search, pieces)
        progress(done, len(fields) + 1)
    works, once = works_of(pieces, settings)
    chosen = programme(asked, works, _limits(settings, once))
    progress(len(fields) + 1, len(fields) + 1)
    rows = with_place(_rows(site, fields, asked, pieces, chosen), site.crs)
    told = [_stop(chosen, settings), *(_note(words) for words in beyond)]
    return {
        "field_programme": frame("field_programme", rows, site.crs),
        "finding": frame("finding", told, site.crs),
    }


def _limits(settings: Mapping[str, Any], once: dict[str, tuple[float, float]]) -> Limits:
    days = math.inf
    if settings["days"]:
        days = max(float(settings["days"]) - float(settings["days_laboratory"]), 0.0)
    return Limits(float(settings["budget"]), days, once, float(settings["value_m3"]))


def _beyond_tests(field: Field, search: Search, pieces: Sequence[Piece]) -> list[str]:
    """How much of what is uncertain no test in an existing hole can reach."""
    lines = [line for p in pieces if p.borehole is not None for line in p.lines]
    if not lines:
        return []
    share = ground_that_matters(field, search, kriging.Support.from_lines(lines)).share
    if share > 0.8:
        return []
    return [
        f"{percent(1.0 - share)} of what is uncertain about {field.quantity} lies out of reach of "
        "tests in the holes that exist: new holes come before further depths there"
    ]


def _rows(
    site: Site,
    fields: Sequence[Field],
    asked: Sequence[Question],
    pieces: Sequence[Piece],
    chosen: Programme,
) -> list[dict[str, Any]]:
    """The steps with what they cost and leave."""
    rows: list[dict[str, Any]] = []
    told = [known_of(site, field) for field in fields]
    money = days = 0.0
    left = sum(one.open_now for one in asked)
    for number, step in enumerate(chosen.steps, start=1):
        piece = pieces[step.work]
        money, days = money + step.money, days + step.days
        left = max(left - sum(step.gains), 0.0)
        order = np.argsort(-np.array(step.gains), kind="stable")
        leading = int(order[0])
        clause = reasons(fields[leading], told[leading], piece.centre[None, :])[0]
        clause += f"; {piece.why}" if piece.why else ""
        rows.append(
            {
                "number": number,
                "step": "test" if piece.borehole is not None else "new borehole",
                "borehole": piece.borehole,
                "zones": "; ".join(f"{top:.1f}-{bottom:.1f}" for top, bottom in piece.zones),
                "depth_m": piece.depth_m,
                "quantities": ", ".join(fields[k].quantity for k in order),
                "cost": step.money,
                "days_d": step.days,
                "total_cost": money,
                "total_days_d": days,
                "gain_m3": sum(step.gains),
                "left_m3": left,
                "reason": clause,
                "cautions": DRILLING_CAUTION if piece.borehole is None else cautions(),
                "geometry": shapely.Point(*piece.collar),
            }
        )
    return rows


def _stop(chosen: Programme, settings: Mapping[str, Any]) -> dict[str, str]:
    money = sum(step.money for step in chosen.steps)
    return finding(
        "field_programme",
        "",
        f"the programme of field work has {len(chosen.steps)} step(s) for {short(money)} of "
        f"{short(float(settings['budget']))}; stop there: {STOPS[chosen.stop]}",
        what_to_do="Weigh that against what the site needs; the decision rests with the person "
        "responsible for it.",
        severity="note",
    )


def _note(words: str) -> dict[str, str]:
    return finding(
        "field_programme",
        "",
        words,
        what_to_do="Look at the new boreholes of the programme first.",
        severity="note",
    )


def _none() -> dict[str, str]:
    return finding(
        "field_programme",
        "",
        "no field work can be proposed for the budget: no packer fits an open hole, and no place "
        "for a borehole is free",
        what_to_do="Check packers, areas and the stand-off.",
        severity="note",
    )


def programme_in_words(site: Site) -> tuple[str, ...]:
    """The programme for the budget, a line for each step, and when to stop.

    Parameters
    ----------
    site : Site
        Tables field_programme and finding.

    Returns
    -------
    tuple of str
        Nothing where no budget is set.
    """
    rows = sorted(records_of(site.table("field_programme")), key=lambda row: row["number"])
    if not rows:
        return ()
    lines = [
        "Programme for the budget, chosen before any of its results, at the costs and days of "
        "[field_programme] (the defaults are round numbers of no market: set your own):"
    ]
    with shown_in(shown_of(site)):
        return (*lines, *(_in_words(row) for row in rows))


def _in_words(row: Mapping[str, Any]) -> str:
    what = f"test {row['borehole']}"
    if row["step"] != "test":
        place = f"{row['x_m']:.2f}, {row['y_m']:.2f}"
        what = translated(f"new borehole of {row['depth_m']:g} m") + f" at {place}, zones"
    zones = ", ".join(translated(f"{zone} m") for zone in row["zones"].split("; "))
    left = translated(f"leaves {short(row['left_m3'])} m³ uncertain; {row['reason']}")
    return (
        f"{row['number']}. {what} {zones}: {short(row['cost'])} (sum {short(row['total_cost'])}), "
        f"{row['days_d']:.1f} d (sum {row['total_days_d']:.1f} d); {left}"
    )


PLUGIN = Layer(
    name="field_programme",
    summary="tests and new boreholes for a budget of money and days, in the order that pays",
    reads=READ,
    writes=("field_programme",),
    compute=compute,
    settings=(
        Setting("budget", 0.0, "1", "Money there is, in any currency; 0: no programme", low=0.0),
        Setting("days", 0.0, "d", "Days there are, with the laboratory; 0: no limit", low=0.0),
        Setting(
            "value_m3",
            0.0,
            "1",
            "What it is worth to know on which side of a criterion a cubic metre lies, in the "
            "currency of the budget; 0: the budget alone decides",
            low=0.0,
        ),
        Setting("cost_rig", 3000.0, "1", "Bringing a rig, once", low=0.0),
        Setting("cost_metre", 150.0, "1", "A metre drilled and cased", low=0.0),
        Setting("cost_hole", 300.0, "1", "Setting up at a hole, once each", low=0.0),
        Setting("cost_test", 250.0, "1", "A packer move with its test", low=0.01),
        Setting("cost_sample", 150.0, "1", "A sample with its analysis", low=0.0),
        Setting("days_rig", 1.0, "d", "Bringing a rig", low=0.0),
        Setting("days_hole", 0.25, "d", "Setting up at a hole", low=0.0),
        Setting("metres_a_day", 15.0, "m/d", "Metres drilled in a day", low=0.1),
        Setting("tests_a_day", 4.0, "1/d", "Tests and samples in a day", low=0.1),
        Setting("days_laboratory", 10.0, "d", "From the last sample to its result", low=0.0),
        Setting(
            "overlap", 0.25, "1", "Share of a zone that may be known already", low=0.0, high=1.0
        ),
        *PLACE_SETTINGS,
        *(s for s in COMMON_SETTINGS if not s.name.startswith("cost_")),
    ),
)
