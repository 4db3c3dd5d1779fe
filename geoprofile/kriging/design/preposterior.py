"""Cells and possible tests seen together: what a test here says of the ground there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from geoprofile.kriging.covariance.kernels import MOST_KNOWN, gains
from geoprofile.kriging.covariance.support import Support, gauss_rule
from geoprofile.kriging.design.current_state import CurrentState, used_members
from geoprofile.kriging.predict.predictor import Member, PlumeMember, Probe
from geoprofile.kriging.solve.blocks import in_blocks

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

NODES = 8
CELLS = 256
JITTER = 1e-9  # [-] of the variance, so that twins can be tested together


@dataclass(eq=False)
class Joint:
    """The joint normal of n cells and m candidates that has the moments of the model's mixture.

    The covariance of cells with candidates is what the members say without data, plus
    `factor @ (sign * here).T`: what the data explain (sign -1), what they leave of the means, where
    the shapes of a plume and the members differ, and what tests chosen since explain. `variance`
    (n,) and `own` (m,) [log10 squared] are their variances, `known` (n,) [-] the share that the
    chosen tests explain.
    """

    members: list[tuple[float, Member | PlumeMember, Probe]]
    cells: Array
    apart: Array | None
    variance: Array
    own: Array
    noise: Array
    factor: NDArray[Any]
    here: Array
    sign: Array
    known: Array

    @classmethod
    def of(
        cls,
        model: Model,
        candidates: Support,
        cells: Array,
        current_state: CurrentState,
        noise: Array,
        *,
        threshold: bool,
    ) -> Joint:
        """Whiten cells and candidates by the data, member by member.

        Parameters
        ----------
        model : Model
            Fitted.
        candidates : Support
            m tests [m].
        cells : Array, shape (n, 3) [m]
            Where it matters.
        current_state : CurrentState
            Of these cells.
        noise : Array, shape (m,) [log10 squared]
            Variance of the new tests.
        threshold : bool
            Whether misclassification counts, else variance.

        Returns
        -------
        Joint
            Before any new test.
        """
        used = used_members(model)
        weights = np.array([weight for weight, _ in used])
        probes = [Probe.of(member, candidates) for _, member in used]
        seen = [_seen(member, probe) for (_, member), probe in zip(used, probes, strict=True)]
        apart_here, here = _between(weights, np.array([mean for mean, _, _ in seen]))
        apart_there, there = _between(weights, current_state.means)
        roots = np.sqrt(weights)
        whites = [root * factor for root, (_, _, factor) in zip(roots, seen, strict=True)]
        signs = [_signs(member) for _, member in used]
        # The integral's own error is larger than that of single precision.
        kind = np.float32 if threshold else np.float64
        edges = np.cumsum([len(sign) for sign in signs])
        factor = np.empty((len(cells), edges[-1] + len(used)), dtype=kind)
        factor[:, edges[-1] :] = there.T
        spread = np.zeros_like(current_state.variance)

        def compute(block: slice) -> None:
            for k, (_, member) in enumerate(used):
                xyz = cells[block]
                found = _factor_of(member, xyz)
                factor[block, edges[k] - len(signs[k]) : edges[k]] = roots[k] * found
                if isinstance(member, PlumeMember):
                    spread[k, block] = (found**2)[:, signs[k] > 0].sum(1)

        in_blocks(len(cells), compute, cells=CELLS)
        nuggets = np.array([member.parameters.nugget for _, member in used])
        return cls(
            [(w, member, probe) for (w, member), probe in zip(used, probes, strict=True)],
            cells,
            current_state.apart if threshold else None,
            weights @ (current_state.variance + spread) + apart_there,
            weights @ np.array([own for _, own, _ in seen]) + apart_here,
            noise + float(weights @ nuggets),
            factor,
            np.hstack([*whites, here.T]),
            np.concatenate([*signs, np.ones(len(used))]),
            np.zeros(len(cells)),
        )

    def gain(self, units: list[Rows], sizes: Array, workers: int | None) -> Array:
        """What each unit adds to the tests chosen so far.

        Parameters
        ----------
        units : list of Array of int
            Candidates [-] that are made together.
        sizes : Array, shape (n,) [m3]
            Volumes of the cells.
        workers : int [-]
            Threads; None: as many as processors.

        Returns
        -------
        Array, shape (units,) [m3, or log10 squared x m3]
            Expected fall of what is wrong, or of the variance.
        """
        columns = np.concatenate(units)
        places = np.split(np.arange(len(columns)), np.cumsum([len(u) for u in units])[:-1])
        inverses = [self._whitener(unit) for unit in units]
        look = self._look(columns)
        node, weight = gauss_rule(NODES)
        total = np.zeros((-(-len(self.cells) // CELLS), len(units)))

        def compute(block: slice) -> None:
            added = _explained(look.cross(block), places, inverses)
            if self.apart is not None:
                added /= np.maximum(self.variance[block, None], 1e-300)
                half, out = 0.5 * self.apart[block] ** 2, np.empty_like(added)
                gains(half, self.known[block], added, node, weight, out)
                added = out
            total[block.start // CELLS] = sizes[block] @ added

        in_blocks(len(self.cells), compute, workers=workers, cells=CELLS)
        return np.asarray(total.sum(0))

    def accept(self, unit: Rows) -> None:
        """Count the tests of a unit as made: they explain as further data would.

        Parameters
        ----------
        unit : Array of int
            Candidates [-].

        Returns
        -------
        None
            The shares that are known have grown.
        """
        inverse, look = self._whitener(unit), self._look(unit)
        there = np.empty((len(self.cells), len(unit)))

        def compute(block: slice) -> None:
            there[block] = look.cross(block) @ inverse.T

        in_blocks(len(self.cells), compute, cells=CELLS)
        here = self._among(unit, np.arange(len(self.own))).T @ inverse.T
        share = np.einsum("mk,mk->m", there, there) / np.maximum(self.variance, 1e-300)
        self.known = np.minimum(self.known + share, MOST_KNOWN)
        self.own = self.own - np.einsum("mk,mk->m", here, here)
        self.factor = np.hstack([self.factor, there.astype(self.factor.dtype)])
        self.here = np.hstack([self.here, here])
        self.sign = np.append(self.sign, np.full(len(unit), -1.0))

    def _look(self, columns: Rows) -> _Look:
        """Cells against some candidates."""
        signed = (self.sign * self.here[columns]).T.astype(self.factor.dtype)
        probes = [(w, member, probe.only(columns)) for w, member, probe in self.members]
        return _Look(probes, self.cells, self.factor, np.ascontiguousarray(signed))

    def _among(self, unit: Rows, columns: Rows) -> Array:
        """Covariance between candidates by their Gauss points, shape (u, c)."""
        total = self.here[unit] @ (self.sign * self.here[columns]).T
        for weight, member, probe in self.members:
            points = probe.places[unit]
            found = probe.only(columns).between(member, points.reshape(-1, 3))
            inner = found.reshape(*points.shape[:2], -1)
            total += weight * np.einsum("g,ugc->uc", probe.weights, inner)
        return np.asarray(total)

    def _whitener(self, unit: Rows) -> Array:
        """Inverse Cholesky factor of the unit's own covariance with test noise."""
        diagonal = np.maximum(self.own[unit], 0.0) + self.noise[unit]
        diagonal += JITTER * sum(w * member.parameters.sill for w, member, _ in self.members)
        if len(unit) == 1:
            return np.asarray(1.0 / np.sqrt(diagonal))[:, None]
        # Gauss points are worst where an interval meets itself: the diagonal is in closed form.
        own = self._among(unit, unit)
        own = 0.5 * (own + own.T)
        own[np.diag_indices_from(own)] = diagonal
        return np.asarray(lapack.dtrtri(np.linalg.cholesky(own), lower=1)[0])


@dataclass(frozen=True, eq=False)
class _Look:
    """Cells against some candidates: `signed` (f, c) is the candidates' factor with its signs."""

    members: list[tuple[float, Member | PlumeMember, Probe]]
    cells: Array
    factor: NDArray[Any]
    signed: NDArray[Any]

    def cross(self, block: slice) -> Array:
        """Covariance of a block of cells with the candidates, shape (m, c) [log10 squared]."""
        total = np.zeros((len(self.cells[block]), self.signed.shape[1]))
        for weight, member, probe in self.members:
            total += weight * probe.between(member, self.cells[block])
        total += self.factor[block] @ self.signed
        return total


def _signs(member: Member | PlumeMember) -> Array:
    """Of the columns of a factor: the data explain; coefficients of the mean, or shapes, add."""
    n, r = member.system.half.shape
    added = member.values.shape[1] if isinstance(member, PlumeMember) else r
    return np.append(np.full(n, -1.0), np.ones(added))


def _factor_of(member: Member | PlumeMember, xyz: Array) -> Array:
    """Whitened covariance of cells with the data, and what they leave of the mean or the shapes."""
    if isinstance(member, PlumeMember):
        cross = member.system.cross(xyz)
        means = member.mean.prior.log10_concentration(member.vectors, xyz).T
        return np.hstack([_white(member, cross), _shapes_apart(means + cross @ member.duals)])
    return _factor(member, member.system.cross(xyz), member.mean.basis(xyz))


def _white(member: Member | PlumeMember, cross: Array) -> Array:
    """Whitened covariance with the data (m, n)."""
    return cross @ member.system.inverse_lower.T


def _shapes_apart(means: Array) -> Array:
    """How far each draw's own shape lies from their mean, so that squares add to a variance."""
    return np.asarray((means - means.mean(1, keepdims=True)) / np.sqrt(means.shape[1]))


def _factor(member: Member | PlumeMember, cross: Array, basis: Array) -> Array:
    """Whitened covariance with the data (m, n), and what they leave of the mean (m, r)."""
    white = _white(member, cross)
    root = np.linalg.cholesky(member.system.coefficient_covariance)
    return np.hstack([white, (basis - white @ member.system.half) @ root])


def _seen(member: Member | PlumeMember, probe: Probe) -> tuple[Array, Array, Array]:
    """Mean (m,) and variance (m,) of the candidates, and their factor."""
    means = member.means(probe)
    if isinstance(member, PlumeMember):
        factor = np.hstack([_white(member, probe.cross), _shapes_apart(means)])
    else:
        factor = _factor(member, probe.cross, probe.basis)
    own = probe.prior + (factor * factor) @ _signs(member)
    return means.mean(1), own, factor


def _between(weights: Array, means: Array) -> tuple[Array, Array]:
    """Variance between the members (n,), and its factor (k, n)."""
    factor = np.sqrt(weights)[:, None] * (means - weights @ means)
    return np.einsum("kn,kn->n", factor, factor), factor


def _explained(cross: Array, units: list[Rows], inverses: list[Array]) -> Array:
    """Variance of each cell that each unit explains, shape (m, units) [log10 squared]."""
    if len(units) == cross.shape[1]:
        cross *= np.array([inverse[0, 0] for inverse in inverses])
        cross *= cross
        return cross
    added = np.empty((len(cross), len(units)))
    for column, (unit, inverse) in enumerate(zip(units, inverses, strict=True)):
        part = cross[:, unit] @ inverse.T
        added[:, column] = np.einsum("mk,mk->m", part, part)
    return added
