"""The fitted model: members with weights, and everything that can be asked of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from geoprofile.budget import afford_draws
from geoprofile.kriging.covariance.anisotropy_frame import Frame
from geoprofile.kriging.covariance.data import (
    CrossValidation,
    Data,
    Parameters,
    Prediction,
    Prior,
    Summary,
)
from geoprofile.kriging.predict.doubt import doubt_of, widened, widened_draws
from geoprofile.kriging.predict.high_values import FROM, HighValues
from geoprofile.kriging.predict.kept import Kept
from geoprofile.kriging.predict.mixture import Part
from geoprofile.kriging.predict.predict_cells import over_cells
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.kriging.predict.simulation import stream
from geoprofile.kriging.predict.statistics import (
    assumed_of,
    chance_above,
    chance_believed,
    level_of,
    spread_of,
    summary_of,
)
from geoprofile.kriging.solve.blocks import CELLS, Progress
from geoprofile.kriging.solve.cells import Lattice

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Model:
    """A field between boreholes with its uncertainty: one member, or several with weights.

    All values are of the latent quantity [log10 of its unit], without test noise. `left_out` is
    what halves of the boreholes predicted of each other when it was fitted, if they were asked.
    With `kept` it remembers what it said of places.
    """

    data: Data
    prior: Prior
    mean: str
    members: tuple[Member | PlumeMember, ...]
    weights: tuple[float, ...]
    warnings: tuple[str, ...] = ()
    seed: int = 0
    left_out: CrossValidation | None = None
    kept: Kept | None = None

    @property
    def parameters(self) -> Parameters:
        """What the heaviest member assumes."""
        return max(self.used, key=itemgetter(0))[1].parameters

    @property
    def frame(self) -> Frame:
        """In which distance alone counts, by the heaviest member."""
        return max(self.used, key=itemgetter(0))[1].system.frame

    def prepare(self, *, exact: bool = True) -> None:
        """Compute what all blocks share, before they are handed out."""
        for _, member in self.used:
            member.prepare(exact=exact)

    @property
    def used(self) -> list[tuple[float, Member | PlumeMember]]:
        """The members that have a weight, after it."""
        pairs = zip(self.weights, self.members, strict=True)
        return [(weight, member) for weight, member in pairs if weight]

    def predict(
        self,
        xyz: Array | Lattice,
        workers: int | None = None,
        progress: Progress | None = None,
        *,
        exact: bool = False,
    ) -> Prediction:
        """Mean and standard deviation.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m], or Lattice
            Easting, northing, elevation.
        workers : int [-]
            Threads; None: as many as processors.
        progress : callable
            Told how many tasks of how many are done.
        exact : bool
            Variance from all data even when they are many; the mean always is.

        Returns
        -------
        Prediction
            Mean and sd, shape (n,) [log10 unit].
        """
        wanted = partial(spread_of, high=self.high_values)
        mean, sd = over_cells(self, xyz, wanted, 2, workers=workers, progress=progress, exact=exact)
        return Prediction(mean, sd)

    def exceedance(
        self,
        xyz: Array | Lattice,
        threshold: float,
        *,
        doubted: bool = True,
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Array:
        """Probability of lying above a threshold.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m], or Lattice
            Easting, northing, elevation.
        threshold : float [log10 unit]
            As a logarithm, like the data.
        doubted : bool
            With the doubt about the model itself, as on a map; else as the members believe.
        workers : int [-]
            Threads; None: as many as processors.
        progress : callable
            Told how many tasks of how many are done.

        Returns
        -------
        Array, shape (n,) [-]
            Draws of non-detects included.
        """
        wanted = partial(chance_above, threshold=threshold, high=self.high_values)
        if not doubted and self.doubt:
            wanted = partial(
                chance_believed,
                threshold=threshold,
                high=self.high_values,
                sills=tuple(self.sills),
                doubt=self.doubt,
            )
        return over_cells(self, xyz, wanted, 1, workers=workers, progress=progress)[0]

    def quantile(
        self,
        xyz: Array | Lattice,
        probability: float,
        *,
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Array:
        """Level with a given probability below it.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m], or Lattice
            Easting, northing, elevation.
        probability : float [-]
            Between 0 and 1.
        workers : int [-]
            Threads; None: as many as processors.
        progress : callable
            Told how many tasks of how many are done.

        Returns
        -------
        Array, shape (n,) [log10 unit]
            Draws of non-detects included.
        """
        wanted = partial(level_of, probability=probability, high=self.high_values)
        return over_cells(self, xyz, wanted, 1, workers=workers, progress=progress)[0]

    def assumed(
        self,
        xyz: Array | Lattice,
        threshold: float | None = None,
        *,
        workers: int | None = None,
    ) -> Array:
        """Share of the doubt that is about the shape of the mean, not about its residual.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m], or Lattice
            Easting, northing, elevation.
        threshold : float [log10 unit]
            The doubt is about lying above it; None: about the value.
        workers : int [-]
            Threads; None: as many as processors.

        Returns
        -------
        Array, shape (n,) [-]
            Above one half the data do not hold the shape: what is drawn there is assumed.
        """
        wanted = partial(assumed_of, threshold=threshold, high=self.high_values)
        return over_cells(self, xyz, wanted, 1, workers=workers)[0]

    def both(
        self,
        xyz: Array | Lattice,
        threshold: float | None = None,
        *,
        probabilities: Sequence[float] = (),
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Summary:
        """Median, spread and exceedance in one pass over the cells.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m], or Lattice
            Easting, northing, elevation.
        threshold : float [log10 unit]
            None: exceedance is NaN.
        probabilities : sequence of float, shape (q,) [-]
            Of the quantiles wanted besides the median.
        workers : int [-]
            Threads; None: as many as processors.
        progress : callable
            Told how many tasks of how many are done.

        Returns
        -------
        Summary
            Columns of shape (n,) [log10 unit].
        """
        wanted = partial(
            summary_of,
            threshold=threshold,
            probabilities=tuple(probabilities),
            high=self.high_values,
        )
        median, mean, sd, above, *levels = over_cells(
            self, xyz, wanted, 4 + len(probabilities), workers=workers, progress=progress
        )
        return Summary(median, mean, sd, above, np.array(levels).reshape(-1, len(mean)).T)

    def simulate(self, xyz: Array, *, realisations: int, rng: np.random.Generator) -> Array:
        """Equally likely fields that honour the data.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        realisations : int [-]
            How many.
        rng : Generator
            Source of chance.

        Returns
        -------
        Array, shape (realisations, n) [log10 unit]
            Members in their order, each by its weight.
        """
        afford_draws(len(np.atleast_2d(xyz)), realisations)
        out = np.empty((realisations, len(np.atleast_2d(xyz))))
        for rows, values in self.stream(xyz, realisations=realisations, rng=rng):
            out[:, rows] = values
        return out

    def stream(
        self, xyz: Array, *, realisations: int, rng: np.random.Generator
    ) -> Iterator[tuple[slice, Array]]:
        """The same as `simulate`, block after block, for more cells than memory holds.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        realisations : int [-]
            How many.
        rng : Generator
            Source of chance.

        Yields
        ------
        tuple of slice and Array, shape (realisations, m) [log10 unit]
            Rows of the cells, and their values.
        """
        afford_draws(min(len(xyz), CELLS), realisations)
        drawn = stream(self.members, self.weights, xyz, realisations, rng)
        places = np.atleast_2d(np.asarray(xyz, dtype=float))
        believed = partial(self.believed, exact=False)
        return widened_draws(drawn, places, believed, self.sills, self.doubt, self.high_values)

    @property
    def is_plume(self) -> bool:
        """Whether any member has a plume's shape."""
        return any(isinstance(member, PlumeMember) for _, member in self.used)

    @property
    def doubt(self) -> float:
        """How much less than it says the field is to be believed where no data are near [-]."""
        return doubt_of(self.left_out) if self.is_plume else 0.0

    @property
    def high_values(self) -> HighValues | None:
        """What values near and above the highest result stand for; None without a plume."""
        seen = np.asarray(self.data.value)[~self.data.censored]
        if not (self.is_plume and seen.size):
            return None
        return HighValues(float(seen.max()) - FROM, tuple(self.sills))

    @property
    def sills(self) -> list[float]:
        """Variance of each used member's residual before any data [log10 squared]."""
        return [member.parameters.sill for _, member in self.used]

    def believed(self, xyz: Array, *, exact: bool = True) -> tuple[Part, ...]:
        """Every member's own prediction of a block of cells, shape (m, 3) [m]."""
        found = [(weight, *member.block(xyz, exact=exact)) for weight, member in self.used]
        return tuple((weight, means, np.sqrt(variance)) for weight, means, variance in found)

    def parts(self, xyz: Array, *, exact: bool = True) -> Sequence[Part]:
        """The same, spread wider by the doubt about the model itself."""
        kept, key = self.kept, None
        if kept is not None:
            key = kept.key(xyz, exact)
            held = kept.held_parts.get(key)
            if held is not None:
                return held
        made = widened(self.believed(xyz, exact=exact), self.sills, self.doubt)
        if kept is not None:
            kept.held_parts.hold(key, made)
        return made
