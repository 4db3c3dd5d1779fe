"""Which tests next: those expected to turn most volume from wrongly to rightly classified."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.special import ndtr

from geoprofile.errors import DataError
from geoprofile.geostat.blocks import in_blocks
from geoprofile.geostat.kernels import MOST_KNOWN, gains
from geoprofile.geostat.model import Model
from geoprofile.geostat.predictor import Member, PlumeMember, Probe
from geoprofile.geostat.records import Batch
from geoprofile.geostat.support import Support, gauss_rule

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

NODES = 8
AT_ONCE = 64  # candidates whose gain is brought up to date together
CELLS = 256


def next_tests(
    model: Model,
    candidates: Support,
    cells: Array,
    threshold: float | None,
    *,
    volume: Array | float = 1.0,
    cost: Array | None = None,
    noise_variance: Array | float | None = None,
    size: int = 1,
    unit: Sequence[int] | NDArray[np.int64] | None = None,
    workers: int | None = None,
) -> Batch:
    """The best next tests, chosen one after the other, each knowing those before it.

    Parameters
    ----------
    model : Model
        Fitted.
    candidates : Support
        m tests that could be made [m].
    cells : Array, shape (n, 3) [m]
        Where it matters to be right.
    threshold : float [log10 unit]
        That separates right from wrong; None: the variance of the field is to fall instead.
    volume : Array, shape (n,), or float [m3]
        Of each cell.
    cost : Array, shape (m,) or one per unit [any currency]
        Candidates are ranked by gain per cost.
    noise_variance : Array, shape (m,), or float [log10 squared]
        Measurement variance of the new tests; None: the median of the data's.
    size : int [-]
        How many to choose.
    unit : sequence of int, shape (m,) [-]
        Candidates made together (a whole borehole) bear the same number; None: one by one.
    workers : int [-]
        Threads; None: as many as processors.

    Returns
    -------
    Batch
        Candidates (or units) in order, gain [m3] and share [-].

    Raises
    ------
    DataError
        There are no candidates or no cells.

    Notes
    -----
    With t = (mean - T)/s and rho the share of the variance that the tests explain, the expected
    misclassification falls by (1/pi) int_0^sqrt(rho) exp(-t^2/2u^2) / sqrt(1-u^2) du; u is
    replaced by s with u^2 = s^2/(s^2 + (1-s)^2), which makes the integrand smooth.

    References
    ----------
    Chevalier et al. (2014), stepwise uncertainty reduction (from memory); closed form derived.
    """
    places = np.atleast_2d(np.asarray(cells, dtype=float))
    if not len(candidates) or not places.size:
        raise DataError(
            "next tests",
            f"{len(candidates)} candidates and {places.shape[0]} cells",
            "at least one of each",
            "Give open intervals that could be tested and the cells of the site.",
        )
    numbers = np.arange(len(candidates)) if unit is None else np.asarray(unit)
    names = np.unique(numbers)
    price = np.ones(len(names)) if cost is None else np.asarray(cost, dtype=float)
    if noise_variance is None:
        noise_variance = float(np.median(np.asarray(model.data.variance)))
    noise = np.broadcast_to(np.asarray(noise_variance, dtype=float), len(candidates))
    sizes = np.broadcast_to(np.asarray(volume, dtype=float), len(places))
    looks = [
        _Look.at(weight, member, candidates, places, noise, threshold)
        for weight, member in zip(model.weights, model.members, strict=True)
        if weight
    ]
    rows = [np.flatnonzero(numbers == name) for name in names]
    now = sum(look.weight * float(sizes @ look.wrong) for look in looks)
    chosen: list[int] = []
    gain: list[float] = []
    worth = sum((look.gain(rows, sizes, workers) for look in looks), np.zeros(len(names)))
    for step in range(min(size, len(names))):
        if step:
            worth[chosen] = -np.inf
            _refresh(looks, rows, sizes, worth, price, workers)
        best = int(np.argmax(worth / price))
        chosen.append(best)
        gain.append(float(worth[best]))
        for look in looks:
            look.accept(rows[best])
    shares = np.array(gain) / max(now, 1e-300)
    return Batch(names[chosen].astype(np.int64), np.array(gain), shares)


def _refresh(
    looks: list[_Look],
    rows: list[Rows],
    sizes: Array,
    worth: Array,
    price: Array,
    workers: int | None,
) -> None:
    """Bring the gains up to date, best first, until none that is left could be the best.

    A gain that was found before the last choice counts as a bound: what is known already is not
    learnt twice.
    """
    order = np.argsort(-worth / price, kind="stable")
    fresh = -np.inf
    for first in range(0, len(order), AT_ONCE):
        some = order[first : first + AT_ONCE]
        if fresh >= (worth / price)[some[0]]:
            return
        if not np.isfinite(worth[some]).any():
            return
        columns = np.concatenate([rows[k] for k in some])
        ends = np.cumsum([len(rows[k]) for k in some])
        units = np.split(np.arange(len(columns)), ends[:-1])
        alive = np.isfinite(worth[some])
        found = sum(
            (look.only(columns).gain(units, sizes, workers) for look in looks),
            np.zeros(len(some)),
        )
        worth[some] = np.where(alive, found, -np.inf)
        fresh = max(fresh, float(np.max(worth[some] / price[some])))


@dataclass(eq=False)
class _Look:
    """One member's view of candidates and cells while a batch grows.

    `known` is the share of each cell's variance that the batch explains; `taken` and `taken_here`
    are the batch's whitened covariances with cells and candidates.
    """

    weight: float
    member: Member | PlumeMember
    probe: Probe
    white: Array
    rest: Array
    covariance: Array
    noise: Array
    cells: Array
    threshold: float | None
    apart: Array
    variance: Array
    wrong: Array
    known: Array
    taken: list[Array] = field(default_factory=list)
    taken_here: list[Array] = field(default_factory=list)

    @classmethod
    def at(
        cls,
        weight: float,
        member: Member | PlumeMember,
        candidates: Support,
        cells: Array,
        noise: Array,
        threshold: float | None,
    ) -> _Look:
        """Posterior of cells and candidates before any new test."""
        member.prepare()
        probe = Probe.of(member, candidates)
        white, rest = _whitened(member, probe.cross, probe.basis)
        spread = rest @ member.system.coefficient_covariance @ rest.T
        ends = candidates.centre
        covariance = probe.between(member, ends) - white @ white.T + spread
        # Between neighbouring candidates centre against interval is enough; the diagonal is exact.
        covariance = 0.5 * (covariance + covariance.T)
        explained = np.einsum("mk,mk->m", white, white)
        covariance[np.diag_indices_from(covariance)] = probe.prior - explained + np.diag(spread)
        mean, variance = _posterior(member, cells)
        apart = np.zeros(len(cells))
        wrong = variance
        if threshold is not None:
            apart = (mean - threshold) / np.sqrt(np.maximum(variance, 1e-300))
            wrong = ndtr(-np.abs(apart))
        full = member.parameters.nugget + noise
        return cls(
            weight,
            member,
            probe,
            white,
            rest,
            covariance,
            full,
            cells,
            threshold,
            apart,
            variance,
            wrong,
            np.zeros(len(cells)),
        )

    def gain(self, rows: list[Rows], sizes: Array, workers: int | None) -> Array:
        """Weighted gain of every unit on top of the batch so far, shape (units,)."""
        inverses = [self._whitener(unit) for unit in rows]
        _ = self.pull, self.carried  # before threads ask for them
        node, weight = gauss_rule(NODES)
        total = np.zeros((-(-len(self.cells) // CELLS), len(rows)))

        def compute(block: slice) -> None:
            added = _explained(self.cross(block), rows, inverses)
            if self.threshold is not None:
                added /= np.maximum(self.variance[block, None], 1e-300)
                half = 0.5 * self.apart[block] ** 2
                known = np.minimum(self.known[block], MOST_KNOWN)
                out = np.empty_like(added)
                gains(half, known, np.ascontiguousarray(added), node, weight, out)
                added = out
            total[block.start // CELLS] = sizes[block] @ added

        in_blocks(len(self.cells), compute, workers=workers, cells=CELLS)
        return np.asarray(self.weight * total.sum(0))

    def cross(self, block: slice) -> Array:
        """Covariance of cells with candidates given data and batch, shape (m, candidates)."""
        xyz = self.cells[block]
        data = self.member.system.cross(xyz)
        rest = self.member.mean.basis(xyz) - data @ self.carried
        cross = self.probe.between(self.member, xyz) - data @ self.pull
        cross += rest @ (self.member.system.coefficient_covariance @ self.rest.T)
        for there, here in zip(self.taken, self.taken_here, strict=True):
            cross -= there[:, block].T @ here
        return cross

    @cached_property
    def pull(self) -> Array:
        """Kriging weights of the candidates, shape (n, candidates)."""
        return np.asarray(self.member.system.inverse_lower.T @ self.white.T)

    @cached_property
    def carried(self) -> Array:
        """What the data carry of the mean, shape (n, r)."""
        return np.asarray(self.member.system.inverse_lower.T @ self.member.system.half)

    def only(self, columns: Rows) -> _Look:
        """The same look at some of the candidates."""
        scaled = np.ascontiguousarray(self.probe.scaled[:, :, columns])
        return replace(
            self,
            probe=replace(self.probe, scaled=scaled),
            white=self.white[columns],
            rest=self.rest[columns],
            covariance=self.covariance[np.ix_(columns, columns)],
            noise=self.noise[columns],
            taken_here=[here[:, columns] for here in self.taken_here],
        )

    def accept(self, unit: Rows) -> None:
        """Take a unit into the batch."""
        inverse = self._whitener(unit)
        there = np.empty((len(unit), len(self.cells)))
        near = self.only(unit)
        _ = near.pull, near.carried

        def compute(block: slice) -> None:
            there[:, block] = inverse @ near.cross(block).T

        in_blocks(len(self.cells), compute, cells=CELLS)
        here = inverse @ self.covariance[unit]
        self.covariance = self.covariance - here.T @ here
        share = np.einsum("km,km->m", there, there) / np.maximum(self.variance, 1e-300)
        self.known = np.minimum(self.known + share, MOST_KNOWN)
        self.taken.append(there)
        self.taken_here.append(here)

    def _whitener(self, unit: Rows) -> Array:
        """Inverse Cholesky factor of the unit's own covariance with test noise."""
        own = self.covariance[np.ix_(unit, unit)].copy()
        own[np.diag_indices_from(own)] += self.noise[unit] + 1e-9 * self.member.parameters.sill
        return np.asarray(lapack.dtrtri(np.linalg.cholesky(own), lower=1)[0])


def _explained(cross: Array, rows: list[Rows], inverses: list[Array]) -> Array:
    """Variance of each cell that each unit explains, shape (m, units) [log10 squared]."""
    if all(len(unit) == 1 for unit in rows):
        scale = np.array([inverse[0, 0] for inverse in inverses])
        order = np.array([unit[0] for unit in rows])
        return np.ascontiguousarray((cross[:, order] * scale) ** 2)
    added = np.empty((len(cross), len(rows)))
    for column, (unit, inverse) in enumerate(zip(rows, inverses, strict=True)):
        part = cross[:, unit] @ inverse.T
        added[:, column] = np.einsum("mk,mk->m", part, part)
    return added


def _whitened(member: Member | PlumeMember, cross: Array, basis: Array) -> tuple[Array, Array]:
    """Whitened covariance with the data (m, n), and the basis they do not carry (m, r)."""
    white = cross @ member.system.inverse_lower.T
    return white, basis - white @ member.system.half


def _posterior(member: Member | PlumeMember, cells: Array) -> tuple[Array, Array]:
    """Mean and variance of the cells, the spread of draws included, each (n,)."""
    mean, variance = np.empty(len(cells)), np.empty(len(cells))

    def compute(block: slice) -> None:
        means, shared = member.block(cells[block])
        mean[block] = means.mean(1)
        variance[block] = shared + means.var(1)

    in_blocks(len(cells), compute)
    return mean, variance
