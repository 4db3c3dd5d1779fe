"""What maps and sections show: which fields, in which bands, from which depths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import (
    PROBABILITY_EDGES,
    Bandwidth,
    band_label,
    levels_of,
    nice_step,
)
from geoprofile.geometry.contours import Band, bands
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.maps.measured import results_of, unit_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
ASSUMED_FROM = 0.5  # [-] share of doubt about the shape above which it is assumed
FEWEST_BOREHOLES = 3  # fewer do not span a map: what is drawn beside them is all assumption


class Values(Protocol):
    """A field at points, arrays of shape (n,)."""

    @property
    def median(self) -> Array:
        """Median in the quantity's unit."""

    @property
    def low(self) -> Array:
        """10 % quantile in the quantity's unit."""

    @property
    def high(self) -> Array:
        """90 % quantile in the quantity's unit."""

    @property
    def log10_sd(self) -> Array:
        """Standard deviation of log10 [-]."""


class RasterField(Protocol):
    """What a raster needs of a fitted field."""

    @property
    def quantity(self) -> str:
        """K, the analyte, or a substance and its medium."""

    @property
    def round(self) -> str | None:
        """Sampling round; None for K."""

    @property
    def unit(self) -> str:
        """Unit of medians and of the criterion."""

    @property
    def criterion(self) -> float | None:
        """The user's comparison value."""

    def at(self, points: Array) -> Values:
        """The field at points (n, 3) [m]."""

    def exceedance(self, points: Array) -> Array:
        """Probability above the criterion at points (n, 3) [m], shape (n,)."""


class MappedField(RasterField, Protocol):
    """What maps need of a fitted field beyond that."""

    @property
    def limits_only(self) -> bool:
        """Whether it predicts held-out boreholes no better than one level for all places."""

    @property
    def highest(self) -> float:
        """Highest measured value in the quantity's unit; infinite where none was measured."""

    def assumed(self, points: Array) -> Array:
        """Share of the variance that is doubt about the shape, at points (n, 3) [m], (n,)."""

    def simulate(self, points: Array, *, realisations: int, rng: np.random.Generator) -> Array:
        """Equally likely fields at points (n, 3) [m], shape (realisations, n)."""


def latest_fields(site: Site, *, every: bool = False) -> list[MappedField]:
    """The fitted field of every quantity, of its latest round.

    Parameters
    ----------
    site : Site
        Its table `field` is read.
    every : bool
        Also fields that hold for limits only, and concentrations of fewer than three boreholes.

    Returns
    -------
    list of MappedField
        K first, then the analytes by name.
    """
    from geoprofile.products.model import fitted as fields

    names = dict.fromkeys(f.quantity for f in fields.fields_of(site))
    found: list[MappedField] = [fields.field_of(site, name) for name in names]
    return [f for f in found if every or _holds(f)]


def _holds(field: MappedField) -> bool:
    """Whether a field is more than limits: it predicts boreholes, and a plume spans three."""
    count = boreholes_with_data(field)
    few = field.quantity != "K" and count is not None and count < FEWEST_BOREHOLES
    return not (field.limits_only or few)


def chosen_fields(site: Site, rounds: str) -> list[MappedField]:
    """The fitted fields of the latest round of every quantity, or of all rounds that were fitted.

    Parameters
    ----------
    site : Site
        Its table `field` is read.
    rounds : str
        "latest" or "all".

    Returns
    -------
    list of MappedField
        K first, then the analytes by name, their rounds in the order of the table.
    """
    from geoprofile.products.model import fitted as fields

    fitted: Sequence[MappedField] = fields.fields_of(site)
    if rounds != "all":
        fitted = latest_fields(site, every=True)
    return [f for f in fitted if not f.limits_only]


def boreholes_with_data(field: MappedField) -> int | None:
    """How many boreholes a field rests on.

    Parameters
    ----------
    field : MappedField
        Any.

    Returns
    -------
    int or None [-]
        None for a field that does not say.
    """
    evidence = getattr(field, "evidence", None)
    return None if evidence is None else len(set(evidence.boreholes))


def bandwidth_of(site: Site, quantity: str) -> Bandwidth:
    """Bands of a quantity, the same in every map and section of the site.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    quantity : str
        K, or an analyte.

    Returns
    -------
    Bandwidth
        Levels [m/s, ug/L or ug/m3]: 1, 3, 10, ... round the values measured in the latest round,
        and one single band below the lowest reporting limit.
    """
    rows = results_of(site, quantity)
    values = [float(r["value"]) for r in rows if r["value"] is not None]
    limits = [float(r["limit"]) for r in rows if r["limit"]]
    return Bandwidth("median", unit_of(quantity), tuple(levels_of(quantity, values, limits)), True)


PROBABILITY_BANDWIDTH = Bandwidth("probability", "1", PROBABILITY_EDGES, False)


def band_rows(
    x: Array, y: Array, values: Array, *, width: Bandwidth, domain: BaseGeometry
) -> list[dict[str, object]]:
    """Bands of a gridded statistic as rows with bounds, unit, label and shape.

    Parameters
    ----------
    x, y : Array, shape (nx,) and (ny,) [m]
        Grid lines.
    values : Array, shape (ny, nx) [unit of the statistic]
        NaN outside the domain.
    width : Bandwidth
        Statistic and its levels.
    domain : BaseGeometry
        What the bands tile [m].

    Returns
    -------
    list of dict
        `statistic`, `lower`, `upper` [unit], `unit`, `label`, `geometry`; an open end is None.
    """
    levels = width.scaled(np.array(width.levels))
    found = bands(x, y, width.scaled(values), list(levels), domain)
    names = dict(zip((float(v) for v in levels), width.levels, strict=True))
    return [_row(band, width, names) for band in found]


def _row(band: Band, width: Bandwidth, names: dict[float, float]) -> dict[str, object]:
    """One band with the bounds in the unit of the statistic."""
    lower, upper = names.get(band.lower, -np.inf), names.get(band.upper, np.inf)
    if not width.logarithmic:
        lower, upper = max(lower, width.levels[0]), min(upper, width.levels[-1])
    return {
        "statistic": width.statistic,
        "lower": lower if np.isfinite(lower) else None,
        "upper": upper if np.isfinite(upper) else None,
        "unit": width.unit,
        "label": band_label(lower, upper, width.unit),
        "class_number": width.number(lower if np.isfinite(lower) else None),
        "class_count": width.count,
        "geometry": band.shape,
    }


def interval_elevations(site: Site) -> Array:
    """Elevation of the middle of every interval.

    Parameters
    ----------
    site : Site
        Its tables `borehole`, `survey` and `interval` are read.

    Returns
    -------
    Array, shape (n,) [m]
        Up from the vertical datum.
    """
    return np.array([line[[0, -1], 2].mean() for line in interval_lines(site).values()])


def round_elevations(middles: Array, *, count: int = 7) -> list[float]:
    """A few round elevations, from high to low, over the middle 80 % of the intervals.

    Parameters
    ----------
    middles : Array, shape (n,) [m]
        Elevations of the intervals.
    count : int [-]
        About how many.

    Returns
    -------
    list of float [m]
        At least one; empty only for no intervals.
    """
    if len(middles) == 0:
        return []
    low, high = np.percentile(middles, [10, 90])
    if high - low < 0.1:
        return [float(np.round(np.median(middles), 1))]
    step = nice_step(float(high - low), count)
    found = step * np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    return [float(np.round(z, 6)) for z in found[::-1]] or [float(np.round(np.median(middles), 1))]


def chosen_elevations(site: Site, wanted: Sequence[float]) -> list[float]:
    """The user's elevations, or round ones over the middle of the intervals.

    Parameters
    ----------
    site : Site
        Its intervals are read where nothing is wanted.
    wanted : sequence of float [m]
        May be empty.

    Returns
    -------
    list of float [m]
        From high to low.
    """
    given = [float(z) for z in wanted]
    return sorted(given, reverse=True) if given else round_elevations(interval_elevations(site))
