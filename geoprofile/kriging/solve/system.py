"""The factorised system of one member: covariance of the data, its factor, and the projection."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack, solve_triangular
from scipy.spatial import cKDTree

from geoprofile.compiling import fixed
from geoprofile.errors import DataError
from geoprofile.kriging.covariance.anisotropy_frame import APART, Frame
from geoprofile.kriging.covariance.data import Parameters
from geoprofile.kriging.covariance.kernels import add_single, fill, fill_single
from geoprofile.kriging.solve.blocks import in_blocks
from geoprofile.kriging.solve.factor import factorise
from geoprofile.kriging.solve.layout import Layout

__all__ = ["Kind", "Layout", "System"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Kind = type[np.float64] | type[np.float32]

# Beyond this many data their correlations are computed where needed rather than kept.
MOST_KEPT = 4000
# Rows of the correlations at a time; so few are computed at once.
ROWS, FEW = 64, 256
LARGE = ("correlation", "lower", "projection", "tree")


@dataclass(frozen=True, eq=False)
class System:
    """Covariance of the data under given parameters, factorised.

    The mean's coefficients are integrated out: `projection` P satisfies P basis = 0 for flat
    coefficients, and P y are the dual weights of kriging.
    """

    layout: Layout
    parameters: Parameters
    frame: Frame
    scaled: Array

    @classmethod
    def build(cls, layout: Layout, parameters: Parameters) -> System:
        """Place the data; all else is computed when it is asked for.

        Parameters
        ----------
        layout : Layout
            Of the data, n items [-].
        parameters : Parameters
            Sill and nugget [log10 squared], lengths [m].

        Returns
        -------
        System
            Of n data [-].
        """
        frame = Frame.of(parameters, layout.origin, layout.strata)
        turned = frame.turn(layout.points)
        turned[..., 2] -= APART * layout.layer
        return cls(layout, parameters, frame, np.ascontiguousarray(turned.transpose(1, 2, 0)))

    def __getstate__(self) -> dict[str, Any]:
        """For another process: without what is large and only needed to solve."""
        return {k: v for k, v in self.__dict__.items() if k not in LARGE}

    @cached_property
    def correlation(self) -> Array:
        """Mean correlation between data, shape (n, n) [-]."""
        return self._correlation(np.arange(self.scaled.shape[2]))

    @cached_property
    def _own(self) -> Array:
        """Mean correlation within each datum, shape (n,) [-]."""
        length = np.linalg.norm(self.frame.turn(self.layout.chord), axis=1)
        return self.layout.covariance.within_parts(length, self.layout.shares)[0]

    def covariance(self, rows: Index) -> Array:
        """Of some data, test noise included, shape (k,) to (k, k) [log10 squared]."""
        return self._noisy(self._correlation(rows), rows)

    def _noisy(self, part: Array, rows: Index) -> Array:
        """Correlations made covariances in place, test noise included."""
        part *= self.parameters.sill
        part.reshape(-1)[:: len(rows) + 1] += self.parameters.nugget + self.layout.variance[rows]
        return part

    @cached_property
    def lower(self) -> Array:
        """Cholesky factor of the covariance of the data, shape (n, n) [log10].

        Raises
        ------
        DataError
            The matrix is singular: tests at the same place without noise.
        """
        rows = np.arange(self.scaled.shape[2])
        few = len(rows) <= MOST_KEPT
        k = self._noisy(self.correlation.copy() if few else self._correlation(rows), rows)
        bad = factorise(k)
        if bad is not None:
            raise DataError(
                f"datum {bad}",
                "a test that its neighbours determine completely",
                "some test noise where supports coincide",
                "Merge duplicates, or give a nugget or a measurement variance.",
            )
        return k

    @cached_property
    def half(self) -> Array:
        """The mean's basis, whitened, shape (n, r)."""
        return np.asarray(
            solve_triangular(self.lower, self.layout.basis, lower=True, check_finite=False)
        )

    @cached_property
    def _inner(self) -> Array:
        """Precision of the coefficients given the data, shape (r, r)."""
        precision = self.layout.mean.precision(self.parameters.sill)
        return np.asarray(self.half.T @ self.half + np.diag(precision))

    @cached_property
    def coefficient_covariance(self) -> Array:
        """Of the mean's coefficients given the data, shape (r, r)."""
        return np.asarray(np.linalg.inv(self._inner))

    @cached_property
    def log_determinant(self) -> float:
        """Of the covariance of the error contrasts [-]."""
        precision = self.layout.mean.precision(self.parameters.sill)
        flat = precision == 0.0
        level = self.layout.basis[:, flat]
        total = 2.0 * float(np.log(np.diag(self.lower)).sum())
        total += float(np.linalg.slogdet(self._inner)[1] - np.log(precision[~flat]).sum())
        if flat.any():
            total -= float(np.linalg.slogdet(level.T @ level)[1])
        return total

    @cached_property
    def inverse_lower(self) -> Array:
        """Inverse of the Cholesky factor, shape (n, n) [1 / log10]."""
        return np.asarray(lapack.dtrtri(self.lower.T, lower=0)[0].T)

    @cached_property
    def solved_basis(self) -> Array:
        """K^-1 basis, shape (n, r)."""
        return np.asarray(
            solve_triangular(self.lower, self.half, lower=True, trans=1, check_finite=False)
        )

    @cached_property
    def projection(self) -> Array:
        """P = K^-1 - K^-1 B (B' K^-1 B + prior)^-1 B' K^-1, shape (n, n) [1 / log10 squared]."""
        inverse = lapack.dpotri(self.lower.T, lower=0)[0].T
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return np.asarray(
            inverse - self.solved_basis @ self.coefficient_covariance @ self.solved_basis.T
        )

    def solve(self, values: Array) -> Array:
        """K^-1 values, shape (n, d)."""
        white = solve_triangular(self.lower, values, lower=True, check_finite=False)
        return np.asarray(
            solve_triangular(self.lower, white, lower=True, trans=1, check_finite=False)
        )

    def duals(self, values: Array) -> Array:
        """P values, shape (n, d), without P."""
        return self.solve(values) - self.solved_basis @ self.coefficients(values)

    def coefficients(self, values: Array) -> Array:
        """Expected coefficients of the mean given values, shape (n, d) to (r, d) [log10 unit]."""
        return np.asarray(self.coefficient_covariance @ (self.solved_basis.T @ values))

    def log_likelihood(self, values: Array) -> float:
        """Restricted log likelihood, averaged over columns of draws.

        Parameters
        ----------
        values : Array, shape (n, d) [log10 unit]
            Data less the mean's offset, non-detects drawn d times.

        Returns
        -------
        float [-]
            Log density of the error contrasts.

        References
        ----------
        Patterson & Thompson (1971), Harville (1974), from memory.
        """
        misfit = float((values * (self.projection @ values)).sum()) / values.shape[1]
        flat = int((self.layout.mean.precision(self.parameters.sill) == 0.0).sum())
        contrasts = values.shape[0] - flat
        return -0.5 * float(contrasts * log(2.0 * pi) + self.log_determinant + misfit)

    def cross(self, xyz: Array) -> Array:
        """Covariance of the field at places with the data.

        Parameters
        ----------
        xyz : Array, shape (m, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        Array, shape (m, n) [log10 squared]
            Without the mean's part.
        """
        return self.cross_placed(self.frame.place(xyz), self.scaled)

    @cached_property
    def tree(self) -> cKDTree:
        """Middles of the data in the frame, to look for the nearest."""
        return cKDTree(self.scaled.mean(0).T)

    @cached_property
    def node_tree(self) -> cKDTree:
        """Gauss points of the data in the frame, datum by datum."""
        return cKDTree(self.scaled.transpose(2, 0, 1).reshape(-1, 3))

    def nearest(self, place: Array, count: int) -> Index:
        """Data nearest to a place in the frame (3,) [-], about so many, in their order.

        In layers an interval that crosses a contact lies near to places on both sides of it.
        """
        if self.layout.strata is None:
            return np.sort(self.tree.query(place, count)[1])
        nodes = len(self.scaled)
        found = self.node_tree.query(place, min(count * nodes, self.node_tree.n))[1]
        return np.unique(found // nodes)

    def cross_placed(self, places: Array, scaled: Array, kind: Kind = np.float64) -> NDArray[Any]:
        """The same at places in the frame (m, 3) [-] with some data (g, 3, k) [-]."""
        out = np.empty((len(places), scaled.shape[2]), dtype=kind)
        loop = fill_single if kind is np.float32 else fill
        loop(*self._seen(places, scaled, kind), out)
        return out

    def add_cross(
        self, places: Array, scaled: Array, factors: NDArray[np.float32], out: Array
    ) -> None:
        """Add to `out` (m,) [log10 unit] that covariance, in single precision, times factors (k,)
        [1 / log10]: it is not kept.
        """
        add_single(*self._seen(places, scaled, np.float32), factors, out)

    def _seen(self, places: Array, scaled: Array, kind: Kind) -> tuple[NDArray[Any], ...]:
        """Places, data, weights and covariance model as the loops of a precision take them."""
        shares = fixed((self.parameters.sill * self.layout.weights).astype(kind))
        shape = self.layout.covariance.shape.astype(kind)
        if kind is np.float64:
            return np.ascontiguousarray(places), scaled, shares, shape
        # Seen from the middle of the cells, data that matter have small coordinates.
        middle = np.full(len(places), 1.0 / len(places)) @ places
        points = (scaled - middle[:, None]).astype(kind)
        return (places - middle).astype(kind, order="C"), points, shares, shape

    def _correlation(self, rows: Index) -> Array:
        """Mean correlation between some data, the diagonal by the smooth integral, (k, k) [-]."""
        layout, k = self.layout, len(rows)
        scaled = np.ascontiguousarray(self.scaled[:, :, rows])
        turned = np.ascontiguousarray(scaled.transpose(2, 0, 1))
        shape, weights = layout.covariance.shape, fixed(layout.weights)
        mean = np.empty((k, k))

        def compute(some: slice) -> None:
            places = turned[some].reshape(-1, 3)
            if len(weights) == 1:
                fill(places, scaled, weights, shape, mean[some])
                return
            out = np.empty((len(places), k))
            fill(places, scaled, weights, shape, out)
            mean[some] = np.einsum("g,ngm->nm", weights, out.reshape(-1, len(weights), k))

        if k <= FEW:
            compute(slice(0, k))
        else:
            in_blocks(k, compute, workers=1 if k <= MOST_KEPT else None, cells=ROWS)
        mean[np.diag_indices(k)] = self._own[rows]
        layout.overlaps.put(mean, rows, self.frame, layout.covariance)
        return mean
