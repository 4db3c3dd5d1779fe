"""The untested parts of existing boreholes, ranked by what a test there is expected to teach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from geoprofile import kriging
from geoprofile.engine.rows import finding, frame
from geoprofile.packers import SetUp
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.advice.candidates import promising_setups, untested
from geoprofile.products.advice.chosen import next_tests
from geoprofile.products.advice.field_work import expected_k, field_work
from geoprofile.products.advice.known import known_of
from geoprofile.products.advice.proposals import (
    left_open,
    predicted,
    reasons,
    remaining_uncertainty,
    wanted,
    with_place,
    worth,
)
from geoprofile.products.advice.search import (
    COMMON_SETTINGS,
    READ,
    Ground,
    K,
    Search,
    ground_that_matters,
    log10_criterion,
    search_of,
)
from geoprofile.products.advice.together import analytes_first, by_worth, merged
from geoprofile.products.model.fitted import Field, field_of
from geoprofile.products.packer_plan.inputs import known_stretches

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

SPARE = 2  # more are chosen than are shown, since some may overlap those before them
LEAST_SHARE = 1e-4  # [-] a gain below that is no advice


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Rank what the packers on hand can isolate by the expected fall of what is uncertain.

    Returns
    -------
    Mapping
        Tables `next_test`, `next_test_quantity` and `remaining_uncertainty`; a finding where no
        advice can be given, with the reason.

    Notes
    -----
    For an analyte the gain is the expected fall of the volume [m3] that the map would call wrongly
    above or below the criterion; for K of the variance of log10 K integrated over the ground. Each
    test of a list adds to those ranked before it, so the list does not cluster. A zone that
    overlaps one ranked before it is left out; the gains after it then err on the low side.
    """
    used, findings = wanted(site)
    rows: list[dict[str, Any]] = []
    left: list[dict[str, Any]] = []
    if used:
        search = search_of(site, settings)
        findings += _why_none(site, search)
        for done, name in enumerate(analytes_first(used), start=1):
            field = field_of(site, name)
            free = _free(search, rows, float(settings["overlap"]))
            found, ground = _rows(site, field, free, settings)
            rows += with_place(_from_collars(site, found), site.crs)
            if ground is not None:
                findings += remaining_uncertainty("next_test", field, ground, found)
                left.append(left_open(field, ground, found))
            progress(done, len(used))
    best = by_worth(merged(rows, _spot, _joined))
    return {
        "next_test": frame("next_test", best, site.crs),
        "next_test_quantity": frame("next_test_quantity", _quantity_rows(best), site.crs),
        "remaining_uncertainty": frame("remaining_uncertainty", left, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _spot(row: Mapping[str, Any]) -> tuple[str, float, float]:
    return row["borehole"], round(row["top_m"], 3), round(row["bottom_m"], 3)


def _free(search: Search, rows: Sequence[Mapping[str, Any]], overlap: float) -> Search:
    """The set-ups that are no second test on a zone proposed for another quantity."""
    same = {_spot(row) for row in rows}
    taken: dict[str, list[tuple[float, float]]] = {}
    for row in rows:
        taken.setdefault(row["borehole"], []).append((row["top_m"], row["bottom_m"]))
    clear = {id(s) for s in untested(search.setups, taken, overlap=overlap)}
    return replace(
        search,
        setups=tuple(
            s
            for s in search.setups
            if id(s) in clear or (s.borehole, round(s.top_m, 3), round(s.bottom_m, 3)) in same
        ),
    )


def _joined(first: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """One set-up for several quantities: one move, one sample for all analytes."""
    purposes = {row["purpose"] for row in rows}
    return {
        "purpose": first["purpose"] if len(purposes) == 1 else "both",
        "cost": max(row["cost"] for row in rows),
        "parts": rows,
    }


def _quantity_rows(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What each quantity is expected to show in the ranked tests."""
    return [{**part, "rank": row["rank"]} for row in rows for part in row["parts"]]


def _from_collars(site: Site, rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows with the place where the crew finds the hole."""
    holes = site.boreholes
    starts = dict(zip(holes["borehole"].astype(str), holes["geometry"], strict=True))
    return [{**r, "x_m": starts[r["borehole"]].x, "y_m": starts[r["borehole"]].y} for r in rows]


def _rows(
    site: Site, field: Field, search: Search, settings: Mapping[str, Any]
) -> tuple[list[dict[str, Any]], Ground | None]:
    """The best few tests for one quantity, and the ground they would tell of."""
    known = known_stretches(site, field.quantity, field.round)
    choice = untested(search.setups, known, overlap=float(settings["overlap"]))
    if not choice:
        return [], None
    choice = promising_setups(field, choice, search)
    lines = [search.paths[s.borehole].line(s.top_m, s.bottom_m) for s in choice]
    tried = kriging.Support.from_lines(lines)
    ground = ground_that_matters(field, search, tried)
    batch = next_tests(
        field.model,
        tried,
        ground.cells,
        log10_criterion(field),
        volume=ground.volumes,
        size=SPARE + int(settings["count"]),
    )
    price = float(settings["cost_move"])
    price += 0.0 if field.quantity == K else float(settings["cost_sample"])
    picks = _apart(batch, choice, ground.share, settings)
    centres = tried.centre[[index for index, _, _ in picks]]
    clauses = reasons(field, known_of(site, field), centres) if picks else []
    rows = [
        {
            "borehole": choice[index].borehole,
            "top_m": choice[index].top_m,
            "bottom_m": choice[index].bottom_m,
            "purpose": "hydraulic" if field.quantity == K else "chemistry",
            "quantity": field.quantity,
            "gain": gain,
            "gain_unit": "m3",
            "gain_share": share,
            "cost": price,
            "reason": f"{clause}; "
            + worth(
                field, share=share, gain=gain, price=price, subject="this test", layer="next_test"
            ),
            "geometry": shapely.LineString(lines[index]),
            **told,
            **field_work(choice[index], search, k, settings),
        }
        for (index, gain, share), clause, told, k in zip(
            picks,
            clauses,
            predicted(field, tried.take(np.array([index for index, _, _ in picks], dtype=np.intp))),
            expected_k(site, centres),
            strict=True,
        )
    ]
    return rows, ground


def _apart(
    batch: kriging.Batch, setups: Sequence[SetUp], part: float, settings: Mapping[str, Any]
) -> list[tuple[int, float, float]]:
    """Index, gain [m3] and share [-] of the picks that do not overlap one before them."""
    picks: list[tuple[int, float, float]] = []
    taken: dict[str, list[tuple[float, float]]] = {}
    for index, gain, of_part in zip(batch.index, batch.gain, batch.share, strict=True):
        share = float(of_part) * part
        if share < LEAST_SHARE or len(picks) == settings["count"]:
            break
        setup = setups[index]
        if untested([setup], taken, overlap=float(settings["overlap"])):
            taken.setdefault(setup.borehole, []).append((setup.top_m, setup.bottom_m))
            picks.append((int(index), float(gain), share))
    return picks


def _why_none(site: Site, search: Search) -> list[dict[str, str]]:
    """Why there is no set-up at all, if so."""
    if search.setups:
        return []
    for name in ("packer", "spacer", "construction"):
        if site.table(name).empty:
            return [
                finding(
                    name,
                    "",
                    f"no next test can be proposed: the table {name} is empty",
                    what_to_do=f"Load a table {name} that lists what is on hand.",
                    severity="note",
                )
            ]
    return [
        finding(
            "packer",
            "",
            "no next test can be proposed: no packer fits the open hole of any borehole",
            what_to_do="Check hole diameters, packer limits and water levels.",
        )
    ]


PLUGIN = Layer(
    name="next_test",
    summary="untested parts of existing boreholes, ranked by what a test there would teach",
    reads=READ,
    writes=("next_test", "next_test_quantity", "remaining_uncertainty"),
    compute=compute,
    settings=(
        Setting("count", 5, "1", "Tests proposed for each quantity", low=1, high=100),
        Setting(
            "overlap", 0.25, "1", "Share of a zone that may be known already", low=0.0, high=1.0
        ),
        Setting(
            "riser_diameter_mm",
            38.0,
            "mm",
            "Inside diameter of the pipe, where the packer table gives none",
            low=1.0,
        ),
        Setting("drawdown_m", 5.0, "m", "Drawdown while purging", low=0.1),
        *COMMON_SETTINGS,
    ),
)
