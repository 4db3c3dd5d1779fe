"""How proposals are ranked and told, for tests and boreholes alike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import shapely

from geoprofile.engine.rows import finding
from geoprofile.kriging.design.predictive import predict
from geoprofile.places import longitude_latitude
from geoprofile.products.advice import wording
from geoprofile.products.advice.search import Array, Ground, K
from geoprofile.products.maps.mapping import latest_fields

if TYPE_CHECKING:
    from geoprofile import kriging
    from geoprofile.products.advice.known import Known
    from geoprofile.products.model.fitted import Field
    from geoprofile.site import Site


def wanted(site: Site) -> tuple[list[str], list[dict[str, str]]]:
    """The quantities to give advice on, and a finding for each that lacks a criterion."""
    fields = latest_fields(site)
    lacking = [f.quantity for f in fields if f.criterion is None and f.quantity != K]
    findings = [
        finding(
            "criterion",
            analyte,
            f"no criterion for {analyte}, so nothing says which test would decide most",
            what_to_do="Add your own comparison value to the criterion table.",
            severity="note",
        )
        for analyte in lacking
    ]
    return [f.quantity for f in fields if f.quantity not in lacking], findings


def reasons(field: Field, told: Sequence[Known], centres: Array) -> list[str]:
    """Why tests at some places, in words and without the gain.

    Parameters
    ----------
    field : Field
        What is asked.
    told : sequence of Known
        What was measured.
    centres : Array, shape (n, 3) [m]
        The places.

    Returns
    -------
    list of str
        A clause for each.
    """
    frame_of = field.model.parameters
    if field.criterion is None:
        spreads = field.at(centres).log10_sd
        return [
            wording.why_hydraulic(told, centre, log10_sd=float(spread), frame=frame_of)
            for centre, spread in zip(centres, spreads, strict=True)
        ]
    return [
        wording.why_chemistry(
            told, centre, criterion=field.criterion, chance=float(chance), frame=frame_of
        )
        for centre, chance in zip(centres, field.exceedance(centres), strict=True)
    ]


def worth(
    field: Field, *, share: float, gain: float, price: float, subject: str, layer: str
) -> str:
    """What a proposal is expected to teach, as a share and per unit of cost.

    Parameters
    ----------
    field : Field
        What is asked.
    share, gain : float [-], [m3]
        Of what is uncertain.
    price : float [units of cost]
        What the proposal costs.
    subject : str
        What it is.
    layer : str
        Whose settings say what work costs.

    Returns
    -------
    str
        A clause.
    """
    decided = field.criterion is not None
    what = "the volume of uncertain classification" if decided else "the variance of log10 K"
    cut = wording.expected_cut(share, what, subject=subject)
    return f"{cut}, {wording.per_cost(gain, price, layer=layer, has_criterion=decided)}"


def with_place(rows: Sequence[dict[str, Any]], crs: str) -> list[dict[str, Any]]:
    """Proposals with the place of their hole for a receiver: in the CRS of the site and WGS 84.

    Parameters
    ----------
    rows : sequence of dict
        With `geometry`, whose first vertex is the place unless `x_m` and `y_m` are there.
    crs : str
        CRS of the site.

    Returns
    -------
    list of dict
        With `x_m`, `y_m` [m], and `longitude_deg`, `latitude_deg` [deg], which stay empty where
        the CRS has no tie to the globe, such as a mine grid.
    """
    if not rows:
        return []
    firsts = [shapely.get_coordinates(row["geometry"])[0] for row in rows]
    x = [float(row.get("x_m", at[0])) for row, at in zip(rows, firsts, strict=True)]
    y = [float(row.get("y_m", at[1])) for row, at in zip(rows, firsts, strict=True)]
    degrees = longitude_latitude(x, y, crs)
    return [
        {
            **row,
            "x_m": round(east, 2),
            "y_m": round(north, 2),
            "longitude_deg": lon,
            "latitude_deg": lat,
        }
        for row, east, north, (lon, lat) in zip(rows, x, y, degrees, strict=True)
    ]


def predicted(field: Field, tests: kriging.Support) -> list[dict[str, Any]]:
    """What tests are expected to find.

    Parameters
    ----------
    field : Field
        What is asked.
    tests : Support
        m intervals [m].

    Returns
    -------
    list of dict
        Columns `predicted_...` of the table `next_test` [unit of the field].
    """
    if not len(tests):
        return []
    levels = 10.0 ** predict(field.model, tests, (0.1, 0.5, 0.9))
    return [
        {
            "predicted_low": float(low),
            "predicted_median": float(middle),
            "predicted_high": float(high),
            "predicted_unit": field.unit,
        }
        for low, middle, high in levels
    ]


def left_open(field: Field, ground: Ground, rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """What stopping now leaves open, and what the proposed tests are expected to leave.

    Parameters
    ----------
    field : Field
        What is asked.
    ground : Ground
        With the volume of uncertain classification [m3].
    rows : sequence of dict
        The proposals, with `gain_share` [-].

    Returns
    -------
    dict
        A row of the table `remaining_uncertainty`.
    """
    return {
        "quantity": field.quantity,
        "round": field.round,
        "uncertain_m3": ground.open_m3,
        "ground_m3": ground.all_m3,
        "tests": len(rows),
        "expected_m3": ground.open_m3 * (1.0 - _cut(rows)),
    }


def remaining_uncertainty(
    step: str, field: Field, ground: Ground, rows: Sequence[dict[str, Any]]
) -> list[dict[str, str]]:
    """What stopping now would leave open, as a finding.

    Parameters
    ----------
    step : str
        Table that the proposals stand in.
    field : Field
        What is asked.
    ground : Ground
        With the volume of uncertain classification [m3].
    rows : sequence of dict
        The proposals, with `gain_share` [-].

    Returns
    -------
    list of dict
        One finding.
    """
    noun = {"next_test": "test", "next_borehole": "borehole"}[step]
    what, now = "that volume", wording.stopping(field.quantity, ground.open_m3, ground.all_m3)
    if field.criterion is None:
        what = "the variance of log10 K"
        now = wording.stopping_hydraulic(ground.open_m3 / max(ground.all_m3, 1e-300))
    then = wording.expected_of_batch(len(rows), noun, _cut(rows), what=what)
    return [
        finding(
            step,
            field.quantity,
            f"{now}; {then}",
            what_to_do="Weigh that against the cost; the decision rests with the person "
            "responsible for the site.",
            severity="note",
        )
    ]


def _cut(rows: Sequence[dict[str, Any]]) -> float:
    """Share of what is uncertain that all proposals together are expected to decide."""
    return float(sum(row["gain_share"] for row in rows))
