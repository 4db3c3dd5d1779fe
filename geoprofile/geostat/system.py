"""The factorised system of one member: covariance of the data, its factor, and the projection."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log, pi

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack, solve_triangular

from geoprofile.errors import DataError
from geoprofile.geostat.covariance import COVARIANCES, Covariance
from geoprofile.geostat.frame import APART, Frame
from geoprofile.geostat.kernels import fill
from geoprofile.geostat.means import Mean
from geoprofile.geostat.records import Data, Parameters
from geoprofile.geostat.strata import Strata, numbers_of, shares_of
from geoprofile.geostat.support import gauss_rule, nodes_for

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Layout:
    """What stays the same while parameters are tried.

    `points` (n, g, 3) [m] are Gauss points from `origin` (3,) [m], `weights` (g,) [-] theirs,
    `chord` (n, 3) [m], `variance` (n,) [log10 squared], `offset` (n,) [log10 unit] and
    `basis` (n, r) [-] of the mean. `layer` (n, g) is the layer of the ground of each Gauss point
    and `shares` (n, layers) [-] how much of each datum lies in which.
    """

    origin: Array
    points: Array
    weights: Array
    chord: Array
    variance: Array
    offset: Array
    basis: Array
    mean: Mean
    covariance: Covariance
    strata: Strata | None
    layer: NDArray[np.int64]
    shares: Array

    @classmethod
    def of(cls, data: Data, mean: Mean, parameters: Parameters) -> Layout:
        """Choose the Gauss points by the longest interval and average the mean over them."""
        chord = data.support.chord
        longest = np.linalg.norm(Frame.of(parameters, np.zeros(3)).turn(chord), axis=1).max()
        layered = data.strata is not None
        node, weight = gauss_rule(nodes_for(float(longest), layered=layered))
        places = data.support.along(node)
        layer = numbers_of(data.strata, places)
        offset, basis = mean.over(places, weight)
        origin = data.support.centre.mean(0)
        return cls(
            origin,
            places - origin,
            weight,
            chord,
            np.asarray(data.variance),
            offset,
            basis,
            mean,
            COVARIANCES[parameters.covariance],
            data.strata,
            layer,
            shares_of(layer, weight),
        )


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
    correlation: Array
    lower: Array
    half: Array
    coefficient_covariance: Array
    log_determinant: float

    @classmethod
    def build(cls, layout: Layout, parameters: Parameters) -> System:
        """Fill and factorise.

        Parameters
        ----------
        layout : Layout
            Of the data, n items [-].
        parameters : Parameters
            Sill and nugget [log10 squared], lengths [m].

        Returns
        -------
        System
            Factorised, n x n [-].

        Raises
        ------
        DataError
            The matrix is singular: tests at the same place without noise.
        """
        frame = Frame.of(parameters, layout.origin, layout.strata)
        turned = frame.turn(layout.points)
        turned[..., 2] -= APART * layout.layer
        scaled = np.ascontiguousarray(turned.transpose(1, 2, 0))
        correlation = _correlation(turned, scaled, frame, layout)
        k = parameters.sill * correlation
        k[np.diag_indices_from(k)] += parameters.nugget + layout.variance
        lower, info = lapack.dpotrf(k, lower=1, clean=1)
        if info:
            raise DataError(
                f"datum {info - 1}",
                "a test that its neighbours determine completely",
                "some test noise where supports coincide",
                "Merge duplicates, or give a nugget or a measurement variance.",
            )
        half = solve_triangular(lower, layout.basis, lower=True, check_finite=False)
        precision = layout.mean.precision(parameters.sill)
        inner = half.T @ half + np.diag(precision)
        flat = precision == 0.0
        level = layout.basis[:, flat]
        log_determinant = 2.0 * float(np.log(np.diag(lower)).sum())
        log_determinant += float(np.linalg.slogdet(inner)[1] - np.log(precision[~flat]).sum())
        if flat.any():
            log_determinant -= float(np.linalg.slogdet(level.T @ level)[1])
        return cls(
            layout,
            parameters,
            frame,
            scaled,
            correlation,
            lower,
            half,
            np.linalg.inv(inner),
            log_determinant,
        )

    @cached_property
    def inverse_lower(self) -> Array:
        """Inverse of the Cholesky factor, shape (n, n) [1 / log10]."""
        return np.asarray(lapack.dtrtri(self.lower, lower=1)[0])

    @cached_property
    def solved_basis(self) -> Array:
        """K^-1 basis, shape (n, r)."""
        return np.asarray(
            solve_triangular(self.lower, self.half, lower=True, trans=1, check_finite=False)
        )

    @cached_property
    def projection(self) -> Array:
        """P = K^-1 - K^-1 B (B' K^-1 B + prior)^-1 B' K^-1, shape (n, n) [1 / log10 squared]."""
        inverse = lapack.dpotri(self.lower, lower=1)[0]
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return np.asarray(
            inverse - self.solved_basis @ self.coefficient_covariance @ self.solved_basis.T
        )

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
        out = np.empty((len(xyz), self.scaled.shape[2]))
        weights = self.parameters.sill * self.layout.weights
        places = np.ascontiguousarray(self.frame.place(xyz))
        fill(places, self.scaled, weights, self.layout.covariance.shape, out)
        return out


def _correlation(turned: Array, scaled: Array, frame: Frame, layout: Layout) -> Array:
    """Mean correlation between data, the diagonal by the smooth integral, shape (n, n) [-]."""
    n, g = turned.shape[:2]
    out = np.empty((n * g, n))
    rows = np.ascontiguousarray(turned.reshape(-1, 3))
    fill(rows, scaled, layout.weights, layout.covariance.shape, out)
    mean = np.einsum("g,ngm->nm", layout.weights, out.reshape(n, g, n)) if g > 1 else out
    length = np.linalg.norm(frame.turn(layout.chord), axis=1)
    mean[np.diag_indices(n)] = layout.covariance.within_parts(length, layout.shares)[0]
    return np.asarray(0.5 * (mean + mean.T))
