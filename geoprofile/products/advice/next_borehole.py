"""Places for new boreholes, ranked by what all their zones together are expected to teach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile.engine.rows import finding, frame
from geoprofile.packers.cautions import DRILLING_CAUTION
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.advice.candidates import promising
from geoprofile.products.advice.chosen import next_tests
from geoprofile.products.advice.known import known_of
from geoprofile.products.advice.places import (
    PLACE_SETTINGS,
    Places,
    costs,
    depths_of,
    places_of,
    zones_of,
)
from geoprofile.products.advice.proposals import (
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
    Search,
    ground_that_matters,
    log10_criterion,
    search_of,
    uncertain,
)
from geoprofile.products.advice.together import PART, analytes_first, by_worth, clear_of, merged
from geoprofile.products.model.fitted import Field, field_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array = NDArray[np.float64]
LEAST_SHARE = 1e-3  # [-] a gain below that is no advice


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Rank places by the expected fall of what is uncertain per unit of cost.

    Notes
    -----
    Places lie on a grid (or are the user's), inside the site area, outside areas closed to
    drilling with a stand-off, and away from holes that exist. All zones of a hole count together;
    each place of a list adds to those ranked before it.
    """
    used, findings = wanted(site)
    rows: list[dict[str, Any]] = []
    if used:
        search = search_of(site, settings)
        places = places_of(site, settings)
        if not len(places.xy):
            findings.append(_nowhere())
        for done, name in enumerate(analytes_first(used), start=1):
            if len(places.xy):
                field = field_of(site, name)
                free = places.take(_free(places, rows, field, settings))
                found, told = _rows(site, field, search, free, settings)
                rows += with_place(found, site.crs)
                findings += told
            progress(done, len(used))
    best = by_worth(merged(rows, _spot, lambda first, every: _joined(every, settings)))
    return {
        "next_borehole": frame("next_borehole", best, site.crs),
        "next_borehole_zone": frame("next_borehole_zone", _zone_rows(best), site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _free(
    places: Places, rows: Sequence[Mapping[str, Any]], field: Field, settings: Mapping[str, Any]
) -> NDArray[np.intp]:
    """The places that are no second hole beside one proposed for another quantity."""
    lengths = field.model.parameters
    apart = float(settings["apart_m"]) or max(
        float(settings["distance_m"]), PART * min(lengths.length_along_m, lengths.length_across_m)
    )
    taken = np.array([[r["geometry"].x, r["geometry"].y] for r in rows]).reshape(-1, 2)
    return np.flatnonzero(clear_of(places.xy, taken, apart))


def _spot(row: Mapping[str, Any]) -> tuple[float, float]:
    return row["x_m"], row["y_m"]


def _joined(rows: Sequence[Mapping[str, Any]], settings: Mapping[str, Any]) -> dict[str, Any]:
    """One hole for several quantities: the deepest, with the zones of all of them."""
    zones = sorted({(z["top_m"], z["bottom_m"]) for row in rows for z in row["zones"]})
    depth = max(row["depth_m"] for row in rows)
    each = float(settings["cost_move"]) + float(settings["cost_sample"])
    return {
        "depth_m": depth,
        "intervals": "; ".join(f"{top:.1f}-{bottom:.1f}" for top, bottom in zones),
        "cost": max(float(settings["cost_metre"]) * depth + each * len(zones), 1e-9),
        "parts": rows,
    }


def _zone_rows(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The zones of ranked boreholes, each with an equal part of what the hole teaches."""
    kept = ("quantity", "x_m", "y_m", "longitude_deg", "latitude_deg")
    return [
        {
            "rank": row["rank"],
            **{name: part.get(name) for name in kept},
            **zone,
            "gain_share": part["gain_share"] / len(part["zones"]),
        }
        for row in rows
        for part in row["parts"]
        for zone in part["zones"]
    ]


def _rows(
    site: Site, field: Field, search: Search, places: Places, settings: Mapping[str, Any]
) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    """The best few places for one quantity, each with its zones."""
    zones = zones_of(
        places,
        first_m=float(settings["casing_m"]),
        length_m=float(settings["zone_m"]),
        spacing_m=float(settings["spacing_m"]),
    )
    if not len(zones.place):
        return [], []
    places, zones = promising(field, places, zones)
    support = zones.support(places)
    ground = ground_that_matters(field, search, support)
    price = costs(places, zones, settings)
    batch = next_tests(
        field.model,
        support,
        ground.cells,
        log10_criterion(field),
        volume=ground.volumes,
        cost=price[np.unique(zones.place)],
        size=int(settings["count"]),
        unit=zones.place,
    )
    depths = depths_of(places, zones, float(settings["sump_m"]))
    score = uncertain(field, support.centre)
    picks = [
        (int(place), float(gain), float(part) * ground.share)
        for place, gain, part in zip(batch.index, batch.gain, batch.share, strict=True)
        if float(part) * ground.share >= LEAST_SHARE
    ]
    mine = [np.flatnonzero(zones.place == place) for place, _, _ in picks]
    least = support.centre[[zone[np.argmax(score[zone])] for zone in mine]]
    clauses = reasons(field, known_of(site, field), least) if picks else []
    rows = [
        {
            "depth_m": round(float(depths[place]), 1),
            "intervals": "; ".join(f"{zones.top[k]:.1f}-{zones.bottom[k]:.1f}" for k in zone),
            "quantity": field.quantity,
            "gain": gain,
            "gain_unit": "m3",
            "reason": f"{clause}; "
            + worth(
                field,
                share=share,
                gain=gain,
                price=float(price[place]),
                subject="this borehole",
                layer="next_borehole",
            ),
            "cautions": DRILLING_CAUTION,
            "gain_share": share,
            "geometry": shapely.Point([*places.xy[place], places.ground[place]]),
        }
        for (place, gain, share), zone, clause in zip(picks, mine, clauses, strict=True)
    ]
    inside = [
        [
            {"top_m": float(zones.top[k]), "bottom_m": float(zones.bottom[k]), **told}
            for k, told in zip(zone, predicted(field, support.take(zone)), strict=True)
        ]
        for zone in mine
    ]
    for row, told in zip(rows, inside, strict=True):
        row["zones"] = told
    return rows, remaining_uncertainty("next_borehole", field, ground, rows)


def _nowhere() -> dict[str, str]:
    return finding(
        "area",
        "",
        "no borehole can be proposed: no place is inside the site, outside the areas closed to"
        " drilling and away from the holes that exist",
        what_to_do="Check the areas, the stand-off and the distance.",
        severity="note",
    )


PLUGIN = Layer(
    name="next_borehole",
    summary="places for new boreholes, ranked by what they are expected to teach for their cost",
    reads=READ,
    writes=("next_borehole", "next_borehole_zone"),
    compute=compute,
    settings=(
        Setting("count", 3, "1", "Places proposed for each quantity", low=1, high=50),
        *PLACE_SETTINGS,
        Setting(
            "apart_m",
            0.0,
            "m",
            "Proposals for several quantities nearer than that are one hole; 0 takes a quarter of "
            "the shorter horizontal correlation length",
            low=0.0,
        ),
        Setting(
            "cost_metre", 0.5, "1", "Cost of a metre drilled, in the unit of cost_move", low=0.0
        ),
        *COMMON_SETTINGS,
    ),
)
