"""What goes into the engine and what comes out: frozen records of arrays."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError

if TYPE_CHECKING:
    from geoprofile.kriging.covariance.strata import Strata
    from geoprofile.kriging.covariance.support import Support

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Data:
    """Measured values with their supports.

    Attributes
    ----------
    support : Support
        Where the n values lie.
    value : Array, shape (n,) [log10 of the quantity's unit]
        NaN where only a limit is known.
    variance : Array, shape (n,) [log10 squared]
        Measurement variance of each value; zero when not given.
    upper : Array, shape (n,) [log10 of the quantity's unit]
        Limit that a non-detect lies below; NaN where a value is given.
    lower : Array, shape (n,) [log10 of the quantity's unit]
        Limit that it lies above; NaN when there is none.
    group : Array of int, shape (n,) [-]
        Number of the borehole; each datum its own when not given.
    strata : Strata
        Layers of the ground [m] that the field does not cross; None where it is one.
    """

    support: Support
    value: Array
    variance: Array | None = None
    upper: Array | None = None
    lower: Array | None = None
    group: NDArray[np.int64] | None = None
    strata: Strata | None = None

    def __post_init__(self) -> None:
        """Fill what was left out, check once, and lock the arrays."""
        n = len(self.support)
        blank = np.full(n, np.nan)
        filled = {
            "value": np.array(self.value, dtype=float),
            "variance": _column(self.variance, np.zeros(n)),
            "upper": _column(self.upper, blank),
            "lower": _column(self.lower, blank),
            "group": np.array(np.arange(n) if self.group is None else self.group, dtype=np.int64),
        }
        for name, column in filled.items():
            if column.shape != (n,):
                raise DataError(
                    f"data column {name}",
                    f"shape {column.shape}",
                    f"one number for each of {n} supports",
                    "Give columns of equal length.",
                )
            column.flags.writeable = False
            object.__setattr__(self, name, column)
        self._check()

    def _check(self) -> None:
        """Refuse rows that contradict themselves, naming the first few of them."""
        censored = np.isnan(self.value)
        upper, lower = self.limits
        bad = {
            "neither a value nor a limit": censored & np.isinf(upper) & np.isinf(lower),
            "an infinite value": np.isinf(self.value),
            "an upper limit not above the lower": censored & (upper <= lower),
            "a variance that is negative or missing": ~(np.asarray(self.variance) >= 0.0),
        }
        for found, rows in bad.items():
            if rows.any():
                where = ", ".join(str(row) for row in np.flatnonzero(rows)[:5])
                raise DataError(
                    f"data rows {where}",
                    found,
                    "a finite value, or NaN with a limit, and a variance of 0 or more",
                    "Correct or leave out these rows.",
                )

    def __len__(self) -> int:
        """Number of data."""
        return len(self.support)

    @property
    def censored(self) -> NDArray[np.bool_]:
        """Where only a limit is known, shape (n,)."""
        return np.isnan(self.value)

    @property
    def limits(self) -> tuple[Array, Array]:
        """Upper and lower limits with infinities for none, each shape (n,) [log10 unit]."""
        upper, lower = np.asarray(self.upper), np.asarray(self.lower)
        return np.where(np.isnan(upper), np.inf, upper), np.where(np.isnan(lower), -np.inf, lower)

    def take(self, index: NDArray[np.intp]) -> Data:
        """Some of the data.

        Parameters
        ----------
        index : Array of int, shape (m,) [-]
            Rows to keep.

        Returns
        -------
        Data
            With m rows [-].
        """
        columns: dict[str, Any] = {
            f.name: np.asarray(getattr(self, f.name))[index]
            for f in fields(self)
            if f.name not in ("support", "strata")
        }
        return replace(self, support=self.support.take(index), **columns)


@dataclass(frozen=True, kw_only=True)
class Prior:
    """Weak beliefs that keep a fit to few boreholes sane; `sd` of a length or ratio is of its ln.

    Attributes
    ----------
    length_along_m, length_along_sd : float [m], [-]
        Correlation length along flow; None: a fifth of the data's extent.
    along_across, along_across_sd : float [-]
        Length along flow over length across.
    along_vertical, along_vertical_sd : float [-]
        Length along flow over vertical length.
    nugget_ratio, nugget_ratio_sd : float [-]
        Nugget over sill.
    sill, sill_weight : float [log10 squared], [-]
        Scale and degrees of freedom of a scaled inverse chi-square.
    azimuth_deg, azimuth_sd_deg : float [degrees]
        Of flow, clockwise from grid north; None: unknown.
    dip_deg, dip_sd_deg : float [degrees]
        Of flow, downwards from the horizontal.
    stratum_sd : float [log10 unit]
        Of the level of a layer of the ground about the level of all.
    """

    length_along_m: float | None = None
    length_along_sd: float = 0.8
    along_across: float = 2.0
    along_across_sd: float = 0.5
    along_vertical: float = 12.0
    along_vertical_sd: float = 0.7
    nugget_ratio: float = 0.15
    nugget_ratio_sd: float = 1.0
    sill: float = 0.5
    sill_weight: float = 2.0
    azimuth_deg: float | None = None
    azimuth_sd_deg: float = 17.0
    dip_deg: float = 0.0
    dip_sd_deg: float = 4.0
    stratum_sd: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Parameters:
    """What a fitted member assumes; lengths are the `a` of the covariance model.

    Attributes
    ----------
    mean : str
        Kind of the mean.
    covariance : str
        Name of the covariance model.
    sill, nugget : float [log10 squared]
        Variance of the field, and of test noise on top of each datum's own variance.
    length_along_m, length_across_m, length_vertical_m : float [m]
        Correlation lengths.
    azimuth_deg, dip_deg : float [degrees]
        Of the long axis: clockwise from grid north, and down from the horizontal.
    shape : tuple of float [-]
        Of a plume-shaped mean, in units of its prior; empty for other means.
    """

    mean: str = "constant"
    covariance: str = "exponential"
    sill: float
    nugget: float = 0.0
    length_along_m: float
    length_across_m: float
    length_vertical_m: float
    azimuth_deg: float = 0.0
    dip_deg: float = 0.0
    shape: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Prediction:
    """Mean and standard deviation of the latent quantity, each shape (n,) [log10 unit]."""

    mean: Array
    sd: Array


@dataclass(frozen=True, eq=False)
class Summary:
    """One pass over cells: `median`, `mean`, `sd` (n,) [log10 unit]; `exceedance` (n,) [-].

    `quantiles` has shape (n, q) [log10 unit], one column per probability asked for.
    """

    median: Array
    mean: Array
    sd: Array
    exceedance: Array
    quantiles: Array


@dataclass(frozen=True, eq=False, kw_only=True)
class CrossValidation:
    """Each datum predicted, as a new test, from the data of the other boreholes.

    Attributes
    ----------
    mean, sd : Array, shape (n,) [log10 unit]
        Of the test predicted.
    residual : Array, shape (n,) [log10 unit]
        Value minus mean; NaN for non-detects.
    position : Array, shape (n,) [-]
        Predicted probability of a value below the one measured; NaN for non-detects.
    log_density : Array, shape (n,) [-]
        ln of the predicted density at the value, or of the probability of lying in the limits.
    group : Array of int, shape (n,) [-]
        Borehole left out.
    coverage_50, coverage_80, coverage_95 : float [-]
        Share of the detected values inside their central intervals.
    log_score : float [-]
        Mean of -ln density: lower is better.
    refitted : bool
        Whether the model was fitted anew without each borehole (else the closed form with the
        fitted parameters, which is a little optimistic).
    log_score_constant : float [-]
        The same score of one level for all places, found from the same other boreholes; NaN where
        it was not asked for.
    sure_gain : float [-]
        By how much the field surely beats that level, whatever its best borehole is; NaN
        where it was not asked for.
    """

    mean: Array
    sd: Array
    residual: Array
    position: Array
    log_density: Array
    group: NDArray[np.int64]
    coverage_50: float
    coverage_80: float
    coverage_95: float
    log_score: float
    refitted: bool = False
    log_score_constant: float = float("nan")
    sure_gain: float = float("nan")

    @property
    def structure(self) -> bool:
        """Whether the field predicts held-out boreholes surely better than one level does."""
        return not self.sure_gain <= 0.0


@dataclass(frozen=True, eq=False)
class Batch:
    """Candidates in the order in which to test them.

    `index` (k,) points into the candidates (or names their units when whole boreholes were asked
    for); `gain` (k,) is what each adds to those before it [m3 expected to change from wrong to
    right, or log10 squared x m3]; `share` (k,) is that gain over all that is wrong now [-].
    """

    index: NDArray[np.int64]
    gain: Array
    share: Array


def _column(column: Array | None, default: Array) -> Array:
    """A float copy of a column, or the default."""
    return default.copy() if column is None else np.array(column, dtype=float)
