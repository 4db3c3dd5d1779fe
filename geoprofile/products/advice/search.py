"""What advice starts from: set-ups that are possible, ground still uncertain, work in the field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from geoprofile.packers import (
    Hole,
    Rules,
    SetUp,
    candidates,
)
from geoprofile.packers.equipment import DENSITY, GRAVITY
from geoprofile.plugins import Setting
from geoprofile.products.advice import wording
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.maps.columns import column_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.packer_plan.inputs import holes_of, packers_of, spacers_of

if TYPE_CHECKING:
    from geoprofile import kriging
    from geoprofile.geometry import Path
    from geoprofile.packers import Packer, Spacer
    from geoprofile.products.model.fitted import Field
    from geoprofile.site import Site

Array = NDArray[np.float64]
K = "K"
DECIDED = 0.005  # [-] a chance below that is left out
REACH = 2.5  # correlation lengths from the nearest candidate: a test tells 1 % of what is beyond
MOST_CELLS = 6000
STRIDES = np.array([1, 5, 7, 11, 13, 17, 19, 23, 29, 37, 47, 59, 97])  # none divides a column of 24

# tables that every kind of advice reads
READ = (
    "model",
    "borehole",
    "survey",
    "construction",
    "caliper",
    "packer",
    "spacer",
    "interval",
    "water_level",
    "head",
    "interval_conductivity",
    "concentration",
    "criterion",
    "area",
    "hydro_unit",
)
COMMON_SETTINGS = (
    Setting("step_m", 0.5, "m", "Step of the depths that are tried", low=0.1, high=10.0),
    Setting(
        "clearance_m",
        0.3,
        "m",
        "Between a packer element and casing, joints or the bottom",
        low=0.0,
    ),
    Setting(
        "seal_margin", 1.3, "1", "Margin on the pressure across a packer element", low=1.0, high=3.0
    ),
    Setting(
        "pressure_difference_kpa",
        50.0,
        "kPa",
        "Largest pressure difference across a packer element during the job",
        low=0.0,
    ),
    Setting(
        "cost_move",
        1.0,
        "1",
        "Cost of a packer move with its test, in any unit; [field_programme] has its own, in money",
        low=0.01,
    ),
    Setting(
        "cost_sample",
        1.0,
        "1",
        "Cost of a sample with its analysis, in the unit of cost_move",
        low=0.0,
    ),
)


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


def search_of(site: Site, settings: Mapping[str, Any]) -> Search:
    """The set-ups that the equipment of the tables can hold, and the ground that matters.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, packer, spacer, water_level, head and area.
    settings : Mapping
        `step_m`, `clearance_m`, `seal_margin`, `pressure_difference_kpa`, and `drawdown_m`, whose
        pressure counts where it is larger.

    Returns
    -------
    Search
        Set-ups of every hole; boxes [m], [m3].
    """
    drawdown_pa = DENSITY * GRAVITY * float(settings.get("drawdown_m", 0.0))
    rules = Rules(
        clearance_m=float(settings["clearance_m"]),
        seal_margin=float(settings["seal_margin"]),
        pressure_difference_pa=max(1e3 * float(settings["pressure_difference_kpa"]), drawdown_pa),
    )
    holes = holes_of(site)
    packers, spacers = packers_of(site), spacers_of(site)
    setups = tuple(
        setup
        for hole in holes.values()
        for setup in _possible(
            hole, tuple(packers), tuple(spacers), float(settings["step_m"]), rules
        )
    )
    column = column_of(site, domain_of(site))
    share = column.wet.ravel()
    wet = share > 0
    return Search(
        setups, holes, paths_of(site), column.points[wet], share[wet] * column.box_m3, rules
    )


@lru_cache(maxsize=256)  # advice on tests and on boreholes asks for the same
def _possible(
    hole: Hole,
    packers: tuple[Packer, ...],
    spacers: tuple[Spacer, ...],
    step_m: float,
    rules: Rules,
) -> tuple[SetUp, ...]:
    return candidates(hole, packers, spacers, step_m=step_m, rules=rules)


@dataclass(frozen=True, eq=False)
class Ground:
    """The cells where a test can still change the answer.

    `cells` (n, 3) [m], `volumes` (n,) [m3]; `share` [-] of all that is uncertain lies in them;
    `open_m3` is all that is uncertain, for K weighted by the variance of log10 K; `all_m3` [m3] is
    all ground.
    """

    cells: Array
    volumes: Array
    share: float
    open_m3: float
    all_m3: float


def log10_criterion(field: Field) -> float | None:
    """The criterion as the engine takes it.

    Parameters
    ----------
    field : Field
        Of K or an analyte.

    Returns
    -------
    float [log10 of the unit] or None
        None for K.
    """
    return None if field.criterion is None else float(np.log10(field.criterion))


def uncertain(field: Field, points: Array) -> Array:
    """How far the field leaves points uncertain.

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

    Notes
    -----
    Without the doubt about the model: on a map it keeps a plume from being overlooked, but spread
    over all the ground that no hole is near it counts twice what is truly on the wrong side.
    """
    if field.criterion is None:
        return np.asarray(field.at(points).log10_sd ** 2)
    chance = field.exceedance(points, doubted=False)
    return np.minimum(chance, 1.0 - chance)


def ground_that_matters(field: Field, search: Search, tested: kriging.Support) -> Ground:
    """Cells that are not decided yet and that a test can reach, thinned evenly where many.

    Parameters
    ----------
    field : Field
        What is asked.
    search : Search
        All cells.
    tested : Support [m]
        The zones that could be tested.

    Returns
    -------
    Ground
        At most `MOST_CELLS` cells [m], which stand for the volume [m3] of all that were kept.
    """
    open_m3 = uncertain(field, search.cells) * search.volumes
    frame_of = field.model.parameters
    along = tested.along(np.linspace(0.0, 1.0, 5)).reshape(-1, 3)
    nearest, _ = KDTree(wording.in_lengths(along, frame_of)).query(
        wording.in_lengths(search.cells, frame_of), distance_upper_bound=REACH
    )
    kept = np.flatnonzero((open_m3 > DECIDED * search.volumes) & np.isfinite(nearest))
    if not len(kept):
        kept = np.arange(len(search.cells))
    share = float(open_m3[kept].sum() / max(open_m3.sum(), 1e-300))
    stride = STRIDES[np.searchsorted(STRIDES, len(kept) / MOST_CELLS).clip(max=len(STRIDES) - 1)]
    thin = kept[::stride]
    scale = open_m3[kept].sum() / max(open_m3[thin].sum(), 1e-300)
    return Ground(
        search.cells[thin],
        search.volumes[thin] * scale,
        share,
        float(open_m3.sum()),
        float(search.volumes.sum()),
    )
