"""The untested parts of existing boreholes, ranked by what a test there is expected to teach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from geoprofile import advice, geostat
from geoprofile.columns import column_of
from geoprofile.fields import Field, field_of
from geoprofile.grids import domain_of
from geoprofile.holes import paths_of
from geoprofile.kits import holes_of, known_stretches, packers_of, spacers_of
from geoprofile.layers._rows import finding, frame
from geoprofile.mapping import latest_fields
from geoprofile.packers import (
    Hole,
    Rules,
    SetUp,
    candidates,
    feasible_rate,
    pipe_volume,
    plan_inflation,
    purge_target,
    time_lag,
    time_to,
    zone_volume,
)
from geoprofile.packers.ranges import USABLE
from geoprofile.plugs import Layer, Progress, Setting

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.paths import Path
    from geoprofile.site import Site

Array = NDArray[np.float64]
K = "K"
DECIDED = 0.005  # [-] a chance below that is left out
REACH = 2.5  # correlation lengths from the nearest candidate: a test tells 1 % of what is beyond
MOST_CELLS = 8000
MOST_CANDIDATES = 120
STRIDES = np.array([1, 5, 7, 11, 13, 17, 19, 23, 29, 37, 47, 59, 97])  # none divides a column of 24
LEAST_SHARE = 1e-4  # [-] a gain below that is no advice


@dataclass(frozen=True, eq=False)
class Search:
    """What every quantity shares: the set-ups that are possible, and the ground that matters.

    `cells` (n, 3) [m] and `volumes` (n,) [m3] are boxes of ground below the water level.
    """

    setups: tuple[SetUp, ...]
    holes: Mapping[str, Hole]
    paths: Mapping[str, Path]
    cells: Array
    volumes: Array
    rules: Rules


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Rank what the packers on hand can isolate by the expected fall of what is undecided.

    Parameters
    ----------
    site : Site
        Tables field, borehole, survey, construction, packer, spacer, interval, water_level, head,
        interval_conductivity, concentration, criterion and area.
    settings : Mapping
        See the settings of the layer.
    progress : Progress
        Told after every quantity.

    Returns
    -------
    Mapping
        Table `next_test`; a finding where no advice can be given, with the reason.

    Notes
    -----
    For an analyte the gain is the expected fall of the volume [m3] that the map would call wrongly
    above or below the criterion; for K of the variance of log10 K integrated over the ground. Each
    test of a list adds to those ranked before it, so the list does not cluster.
    """
    fields = latest_fields(site)
    findings = [
        _no_criterion(f.quantity) for f in fields if f.criterion is None and f.quantity != K
    ]
    used = [f.quantity for f in fields if f.criterion is not None or f.quantity == K]
    rows: list[dict[str, Any]] = []
    if used:
        search = search_of(site, settings)
        findings += _why_none(site, search)
        for done, name in enumerate(used, start=1):
            rows += _rows(site, field_of(site, name), search, settings)
            progress(done, len(used))
    rows.sort(key=lambda row: -row["gain_share"])
    for rank, row in enumerate(rows, start=1):
        row["rank"] = rank
    return {
        "next_test": frame("next_test", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def search_of(site: Site, settings: Mapping[str, Any]) -> Search:
    """The set-ups that the equipment of the tables can hold, and the ground that matters.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, packer, spacer, water_level, head and area.
    settings : Mapping
        `step_m`, `clearance_m`, `seal_margin`, `pressure_difference_kpa`.

    Returns
    -------
    Search
        Set-ups of every hole; boxes [m], [m3].
    """
    rules = Rules(
        clearance_m=float(settings["clearance_m"]),
        seal_margin=float(settings["seal_margin"]),
        pressure_difference_pa=1e3 * float(settings["pressure_difference_kpa"]),
    )
    holes = holes_of(site)
    packers, spacers = packers_of(site), spacers_of(site)
    setups = tuple(
        setup
        for hole in holes.values()
        for setup in candidates(
            hole, packers, spacers, step_m=float(settings["step_m"]), rules=rules
        )
    )
    column = column_of(site, domain_of(site))
    share = column.wet.ravel()
    wet = share > 0
    return Search(
        setups, holes, paths_of(site), column.points[wet], share[wet] * column.box_m3, rules
    )


def untested(
    setups: Sequence[SetUp],
    known: Mapping[str, Sequence[tuple[float, float]]],
    *,
    overlap: float,
) -> list[SetUp]:
    """The set-ups whose zone is new ground.

    Parameters
    ----------
    setups : sequence of SetUp
        What is possible.
    known : Mapping
        Stretches already known [m] by borehole.
    overlap : float [-]
        Largest share of a zone that may be known already.

    Returns
    -------
    list of SetUp
        In the same order.
    """
    return [s for s in setups if _overlap(s, known.get(s.borehole, ())) <= overlap + 1e-9]


def _overlap(setup: SetUp, known: Sequence[tuple[float, float]]) -> float:
    """Share of a zone that known stretches cover; they may overlap each other."""
    covered, reached = 0.0, setup.top_m
    for top, bottom in sorted(known):
        start, end = max(top, reached), min(bottom, setup.bottom_m)
        if end > start:
            covered += end - start
            reached = end
    return covered / setup.length_m


@dataclass(frozen=True, eq=False)
class Ground:
    """The cells where a test can still change the answer.

    `cells` (n, 3) [m], `volumes` (n,) [m3]; `share` [-] of all that is undecided lies in them.
    """

    cells: Array
    volumes: Array
    share: float


def undecided(field: Field, points: Array) -> Array:
    """How far the field leaves points undecided.

    Parameters
    ----------
    field : Field
        With a criterion, or of K.
    points : Array, shape (n, 3) [m]
        Where.

    Returns
    -------
    Array, shape (n,) [-]
        Chance of standing on the wrong side of the criterion; for K the variance of log10 K.
    """
    if field.criterion is None:
        return np.asarray(field.at(points).log10_sd ** 2)
    chance = field.exceedance(points)
    return np.minimum(chance, 1.0 - chance)


def ground_that_matters(field: Field, search: Search, tested: Array) -> Ground:
    """Cells that are not decided yet and that a test can reach, thinned evenly where many.

    Parameters
    ----------
    field : Field
        What is asked.
    search : Search
        All cells.
    tested : Array, shape (m, 3) [m]
        Points along the zones that could be tested.

    Returns
    -------
    Ground
        At most `MOST_CELLS` cells [m], which stand for the volume [m3] of all that were kept.
    """
    open_m3 = undecided(field, search.cells) * search.volumes
    frame_of = field.model.parameters
    nearest, _ = KDTree(advice.in_lengths(tested, frame_of)).query(
        advice.in_lengths(search.cells, frame_of), distance_upper_bound=REACH
    )
    kept = np.flatnonzero((open_m3 > DECIDED * search.volumes) & np.isfinite(nearest))
    if not len(kept):
        kept = np.arange(len(search.cells))
    share = float(open_m3[kept].sum() / max(open_m3.sum(), 1e-300))
    stride = STRIDES[np.searchsorted(STRIDES, len(kept) / MOST_CELLS).clip(max=len(STRIDES) - 1)]
    thin = kept[::stride]
    scale = open_m3[kept].sum() / max(open_m3[thin].sum(), 1e-300)
    return Ground(search.cells[thin], search.volumes[thin] * scale, share)


def _promising(field: Field, setups: Sequence[SetUp], centres: Array) -> NDArray[np.intp]:
    """The set-ups that are least decided themselves; aiming at the edge is what counts most."""
    score = undecided(field, centres) * np.sqrt([s.length_m for s in setups])
    return np.sort(np.argsort(-score, kind="stable")[:MOST_CANDIDATES])


def _rows(
    site: Site, field: Field, search: Search, settings: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """The best few tests for one quantity."""
    known = known_stretches(site, field.quantity, field.round)
    choice = untested(search.setups, known, overlap=float(settings["overlap"]))
    if not choice:
        return []
    lines = [search.paths[s.borehole].line(s.top_m, s.bottom_m) for s in choice]
    support = geostat.Support.from_lines(lines)
    best = _promising(field, choice, support.centre)
    along = support.take(best).along(np.linspace(0.0, 1.0, 5)).reshape(-1, 3)
    ground = ground_that_matters(field, search, along)
    batch = geostat.next_tests(
        field.model,
        support.take(best),
        ground.cells,
        None if field.criterion is None else float(np.log10(field.criterion)),
        volume=ground.volumes,
        size=int(settings["count"]),
    )
    told = advice.known_of(site, field)
    rows = []
    for index, gain, part in zip(best[batch.index], batch.gain, batch.share, strict=True):
        share = float(part) * ground.share
        if share < LEAST_SHARE:
            break
        setup, centre = choice[index], support.centre[index]
        rows.append(
            {
                "borehole": setup.borehole,
                "top_m": setup.top_m,
                "bottom_m": setup.bottom_m,
                "purpose": "hydraulic" if field.quantity == K else "chemistry",
                "quantity": field.quantity,
                "gain": float(gain),
                "gain_unit": "m3",
                "gain_share": share,
                "reason": f"{_why(field, told, centre)}; {_cut(field, share)}",
                "geometry": shapely.LineString(lines[index]),
                **field_work(site, setup, search, centre, settings),
            }
        )
    return rows


def _why(field: Field, told: Sequence[advice.Known], centre: Array) -> str:
    point = centre[None, :]
    frame_of = field.model.parameters
    if field.criterion is None:
        spread = float(field.at(point).log10_sd[0])
        return advice.why_hydraulic(told, centre, log10_sd=spread, frame=frame_of)
    return advice.why_chemistry(
        told,
        centre,
        criterion=field.criterion,
        chance=float(field.exceedance(point)[0]),
        frame=frame_of,
    )


def _cut(field: Field, share: float) -> str:
    what = "the variance of log10 K" if field.criterion is None else "the undecided volume"
    return advice.expected_cut(share, what)


def field_work(
    site: Site, setup: SetUp, search: Search, centre: Array, settings: Mapping[str, Any]
) -> dict[str, Any]:
    """What the crew needs for a set-up: equipment, pressure, expected K, time, purge, cautions.

    Parameters
    ----------
    site : Site
        With the field of K, if there is one.
    setup : SetUp
        The position.
    search : Search
        Holes and rules.
    centre : Array, shape (3,) [m]
        Middle of the zone.
    settings : Mapping
        `riser_diameter_mm`, `drawdown_m`.

    Returns
    -------
    dict
        Columns of the table `next_test`.
    """
    hole = search.holes[setup.borehole]
    packer = setup.packer
    diameter = hole.diameter(setup.top_m, setup.bottom_m)
    pipe = packer.pipe_inner_diameter_m or float(settings["riser_diameter_mm"]) / 1e3
    line = max(setup.top_m - (hole.static_depth_m or 0.0), 0.0)
    purge = purge_target(
        zone_volume(diameter, 0.0, setup.length_m), pipe_m3=pipe_volume(pipe, line)
    )
    k = _expected_k(site, centre)
    lag = None if k is None else time_lag(k, pipe / 2, setup.length_m, diameter / 2)
    hours = None
    if k is not None:
        drawdown = float(settings["drawdown_m"])
        rate = feasible_rate(k, setup.length_m, diameter / 2, drawdown_m=drawdown)
        hours = purge.time_s(rate) / 3600
    inflation = plan_inflation(packer, hole, setup.glands_m[-1][1], rules=search.rules)
    return {
        "packer": packer.packer,
        "spacer": None if setup.spacer is None else setup.spacer.spacer,
        "inflation_kpa": round(setup.gauge_pressure_pa / 1e3, 1),
        "expected_k_m_per_s": k,
        "expected_duration_s": None if lag is None else time_to(USABLE, lag),
        "purge_l": round(1e3 * purge.total_m3, 1),
        "cautions": advice.cautions(
            limit_kpa=packer.max_inflation_pa / 1e3, purge_h=hours, extra=inflation.cautions
        ),
    }


def _expected_k(site: Site, centre: Array) -> float | None:
    """Median of K at a point; None without a field of K."""
    if not (site.table("field")["quantity"] == K).any():
        return None
    return float(field_of(site, K).at(centre[None, :]).median[0])


def _no_criterion(analyte: str) -> dict[str, str]:
    return finding(
        "criterion",
        analyte,
        f"no criterion for {analyte}, so nothing says which test would decide most",
        what_to_do="Add your own comparison value to the criterion table.",
        severity="note",
    )


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


PLUG = Layer(
    name="next_test",
    summary="untested parts of existing boreholes, ranked by what a test there would teach",
    reads=(
        "field",
        "borehole",
        "survey",
        "construction",
        "packer",
        "spacer",
        "interval",
        "water_level",
        "head",
        "interval_conductivity",
        "concentration",
        "criterion",
        "area",
    ),
    writes=("next_test",),
    compute=compute,
    settings=(
        Setting("count", 5, "1", "Tests proposed for each quantity", low=1, high=100),
        Setting("step_m", 0.5, "m", "Step of the depths that are tried", low=0.1, high=10.0),
        Setting(
            "overlap", 0.25, "1", "Share of a zone that may be known already", low=0.0, high=1.0
        ),
        Setting(
            "clearance_m", 0.3, "m", "Between a gland and casing, joints or the bottom", low=0.0
        ),
        Setting(
            "seal_margin", 1.3, "1", "Margin on the pressure across a gland", low=1.0, high=3.0
        ),
        Setting(
            "pressure_difference_kpa",
            50.0,
            "kPa",
            "Largest pressure difference across a gland during the job",
            low=0.0,
        ),
        Setting(
            "riser_diameter_mm",
            38.0,
            "mm",
            "Inside diameter of the pipe, where the packer table gives none",
            low=1.0,
        ),
        Setting("drawdown_m", 5.0, "m", "Drawdown while purging", low=0.1),
    ),
)
