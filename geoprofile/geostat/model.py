"""The fitted model: members with weights, and everything that can be asked of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoprofile.geostat.blocks import CELLS, Progress, in_blocks
from geoprofile.geostat.folds import refitted
from geoprofile.geostat.local import MOST_GLOBAL, compact_order
from geoprofile.geostat.mixture import Part, below, moments, quantile
from geoprofile.geostat.predictor import Member, PlumeMember
from geoprofile.geostat.records import (
    CrossValidation,
    Data,
    Parameters,
    Prediction,
    Prior,
    Summary,
)
from geoprofile.geostat.simulation import stream
from geoprofile.geostat.validation import left_out, validation

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Model:
    """A field between boreholes with its uncertainty: one member, or several with weights.

    All values are of the latent quantity [log10 of its unit], without test noise.
    """

    data: Data
    prior: Prior
    mean: str
    members: tuple[Member | PlumeMember, ...]
    weights: tuple[float, ...]
    warnings: tuple[str, ...] = ()
    seed: int = 0

    @property
    def parameters(self) -> Parameters:
        """What the heaviest member assumes."""
        return self.members[int(np.argmax(self.weights))].parameters

    def predict(
        self,
        xyz: Array,
        workers: int | None = None,
        progress: Progress | None = None,
        *,
        exact: bool = False,
    ) -> Prediction:
        """Mean and standard deviation.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
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
        mean, sd = self._map(xyz, lambda parts: moments(parts), 2, workers, progress, exact)
        return Prediction(mean, sd)

    def exceedance(
        self,
        xyz: Array,
        threshold: float,
        *,
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Array:
        """Probability of lying above a threshold.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        threshold : float [log10 unit]
            As a logarithm, like the data.
        workers : int [-]
            Threads; None: as many as processors.
        progress : callable
            Told how many tasks of how many are done.

        Returns
        -------
        Array, shape (n,) [-]
            Draws of non-detects included.
        """
        (above,) = self._map(
            xyz, lambda parts: (1.0 - below(parts, threshold),), 1, workers, progress
        )
        return above

    def quantile(
        self,
        xyz: Array,
        probability: float,
        *,
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Array:
        """Level with a given probability below it.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
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
        (level,) = self._map(
            xyz, lambda parts: (quantile(parts, probability),), 1, workers, progress
        )
        return level

    def both(
        self,
        xyz: Array,
        threshold: float | None = None,
        *,
        probabilities: Sequence[float] = (),
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Summary:
        """Median, spread and exceedance in one pass over the cells.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
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

        def reduce(parts: list[Part]) -> tuple[Array, ...]:
            mean, sd = moments(parts)
            above = np.full_like(mean, np.nan)
            if threshold is not None:
                above = 1.0 - below(parts, threshold)
            levels = [quantile(parts, probability) for probability in (0.5, *probabilities)]
            return (mean, sd, above, *levels)

        columns = self._map(xyz, reduce, 4 + len(probabilities), workers, progress)
        mean, sd, above, median = columns[:4]
        others = np.array(columns[4:]).reshape(-1, len(mean)).T
        return Summary(median, mean, sd, above, others)

    def cross_validate(self) -> CrossValidation:
        """Each datum predicted from the data of the other boreholes.

        Returns
        -------
        CrossValidation
            Columns of shape (n,) [log10 unit], coverage and score [-].

        Notes
        -----
        In closed form, or by real refits where a plume-shaped member is present: for those the
        closed form flatters.
        """
        parts = []
        by_refit = any(isinstance(member, PlumeMember) for member in self.members)
        for number, (weight, member) in enumerate(zip(self.weights, self.members, strict=True)):
            if isinstance(member, Member) and not by_refit:
                parts.append((weight, *left_out(member)))
            elif weight:
                parts.append((weight, *refitted(member, self.prior, (self.seed, number))))
        return validation(self.data, parts, refitted=by_refit)

    def to_json(self) -> str:
        """The fitted model as text; with the same data it predicts the same to the last bit.

        Returns
        -------
        str
            JSON; parameters in their units [m, log10 squared], draws as base64.
        """
        from geoprofile.geostat.stored import to_text

        return to_text(self)

    @classmethod
    def from_json(cls, text: str, data: Data) -> Model:
        """A model read back, not fitted again.

        Parameters
        ----------
        text : str
            As written by `to_json`.
        data : Data
            The same n data [log10 unit] as fitted.

        Returns
        -------
        Model
            Predicting as before.

        Raises
        ------
        DataError
            The data are not those of the fit.
        """
        from geoprofile.geostat.stored import from_text

        return from_text(text, data)

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
        targets = np.atleast_2d(np.asarray(xyz, dtype=float))
        out = np.empty((realisations, len(targets)))
        for rows, values in self.stream(targets, realisations=realisations, rng=rng):
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
        targets = np.atleast_2d(np.asarray(xyz, dtype=float))
        return stream(self.members, self.weights, targets, realisations, rng)

    def parts(self, xyz: Array, *, exact: bool = True) -> list[Part]:
        """Every member's prediction of a block of cells, shape (m, 3) [m]."""
        found = []
        for weight, member in zip(self.weights, self.members, strict=True):
            if not weight:
                continue
            means, variance = member.block(xyz, exact=exact)
            found.append((weight, means, np.sqrt(variance)))
        return found

    def _map(
        self,
        xyz: Array,
        reduce: Callable[[list[Part]], tuple[Array, ...]],
        columns: int,
        workers: int | None,
        progress: Progress | None,
        exact: bool = False,
    ) -> tuple[Array, ...]:
        """Reduce the members' predictions block by block to columns of shape (n,)."""
        targets = np.atleast_2d(np.asarray(xyz, dtype=float))
        out = tuple(np.empty(len(targets)) for _ in range(columns))
        for weight, member in zip(self.weights, self.members, strict=True):
            if weight:
                member.prepare()

        # Blocks of neighbours, so that few data matter to each.
        many = len(self.data) > MOST_GLOBAL and not exact
        frame = self.members[int(np.argmax(self.weights))].system.frame
        order = compact_order(frame.place(targets), CELLS) if many else np.arange(len(targets))

        def compute(rows: slice) -> None:
            here = order[rows]
            found = reduce(self.parts(targets[here], exact=exact))
            for column, values in zip(out, found, strict=True):
                column[here] = values

        in_blocks(len(targets), compute, workers=workers, progress=progress)
        return out
