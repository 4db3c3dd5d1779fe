"""One fitted member ready to predict: dual weights for the mean, factor for the variance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import fixed
from geoprofile.kriging.covariance.data import Data, Parameters
from geoprofile.kriging.covariance.kernels import fill
from geoprofile.kriging.covariance.strata import numbers_of, shares_of
from geoprofile.kriging.covariance.support import Support, gauss_rule, nodes_for
from geoprofile.kriging.predict.plume_shape import Plume
from geoprofile.kriging.solve.blocks import one_thread_each
from geoprofile.kriging.solve.sums import Sums
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Mean
from geoprofile.kriging.solve.weights import kriging, prepare, whiten

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Member:
    """One model of the field: parameters, mean, and draws of the values (n, d) [log10 unit]."""

    data: Data
    parameters: Parameters
    mean: Mean
    values: Array

    @cached_property
    def system(self) -> System:
        """Factorised under the fitted parameters."""
        return System.build(Layout.of(self.data, self.mean, self.parameters), self.parameters)

    @cached_property
    def duals(self) -> Array:
        """Kriging weights of the values, shape (n, d) [1 / log10]."""
        return self.system.duals(self.residuals)

    @cached_property
    def sums(self) -> Sums:
        """Of covariance times kriging weight."""
        return Sums(self.system, self.duals)

    @cached_property
    def residuals(self) -> Array:
        """Values less what the mean knows beforehand, shape (n, d) [log10 unit]."""
        return self.values - self.system.layout.offset[:, None]

    @cached_property
    def coefficients(self) -> Array:
        """Of the mean, shape (r, d)."""
        return self.system.coefficients(self.residuals)

    def recall(self, duals: Array, coefficients: Array, spread: Array) -> None:
        """Take over what was solved for before, and the covariance of the coefficients (r, r)."""
        self.__dict__.update(duals=duals, coefficients=coefficients)
        self.system.__dict__.update(coefficient_covariance=spread)

    def prepare(self, *, exact: bool = True) -> None:
        """Compute what all blocks share, before threads ask for it.

        Always on one BLAS thread, so that a model read back gives the same bits.
        """
        with one_thread_each():
            _ = self.coefficients, self.system.coefficient_covariance
            prepare(self.sums, exact=exact)

    def block(self, xyz: Array, *, exact: bool = True) -> tuple[Array, Array]:
        """Mean of each draw, and the variance that all draws share.

        Parameters
        ----------
        xyz : Array, shape (m, 3) [m]
            Cells; their number bounds the memory.
        exact : bool
            Variance from all data, however many.

        Returns
        -------
        tuple of Array, shape (m, d) [log10 unit] and (m,) [log10 squared]
            Of the latent quantity, without test noise.
        """
        basis = self.mean.basis(xyz)
        kriged, explained, rest = kriging(self.sums, xyz, basis, exact=exact)
        means = kriged + basis @ self.coefficients
        return means, self._variance(self.parameters.sill, explained, rest)

    def at(self, support: Support) -> tuple[Array, Array]:
        """Mean of each draw (m, d) [log10 unit] and variance (m,) of the field over supports."""
        self.prepare()
        probe = Probe.of(self, support)
        explained, rest = whiten(self.system, probe.cross.copy(), probe.basis)
        return self.means(probe), self._variance(probe.prior, explained, rest)

    def means(self, probe: Probe) -> Array:
        """Mean of each draw over supports, shape (m, d) [log10 unit]."""
        return np.asarray(probe.cross @ self.duals + probe.basis @ self.coefficients)

    def _variance(self, prior: Array | float, explained: Array, rest: Array) -> Array:
        """What data leave of the sill, plus what they leave of the mean, shape (m,)."""
        spare = np.einsum("mr,rs,ms->m", rest, self.system.coefficient_covariance, rest)
        return np.asarray(np.maximum(prior - explained + spare, 0.0))


@dataclass(frozen=True, eq=False)
class PlumeMember:
    """A plume-shaped mean with a kriged residual; each draw has its own shape.

    `mean` is the most probable plume; `values` (n, d) [log10 unit] and `vectors` (d, p) [-] are
    joint draws of the data and of the plume's shape.
    """

    data: Data
    parameters: Parameters
    mean: Plume
    values: Array
    vectors: Array

    @cached_property
    def system(self) -> System:
        """Factorised under the fitted parameters, linear around the most probable plume."""
        return System.build(Layout.of(self.data, self.mean, self.parameters), self.parameters)

    @cached_property
    def duals(self) -> Array:
        """Kriging weights of what each draw's own plume leaves, shape (n, d) [1 / log10]."""
        layout = self.system.layout
        places = layout.points + layout.origin
        left = self.values - self.mean.prior.averaged(self.vectors, places, layout.weights).T
        return self.system.solve(left)

    @cached_property
    def sums(self) -> Sums:
        """Of covariance times kriging weight."""
        return Sums(self.system, self.duals)

    def prepare(self, *, exact: bool = True) -> None:
        """Compute what all blocks share, always on one BLAS thread."""
        with one_thread_each():
            prepare(self.sums, exact=exact)

    def block(self, xyz: Array, *, exact: bool = True) -> tuple[Array, Array]:
        """Mean of each draw (m, d) [log10 unit] and the variance of the residual (m,)."""
        kriged, explained, _ = kriging(self.sums, xyz, None, exact=exact)
        means = self.mean.prior.log10_concentration(self.vectors, xyz)
        means += kriged.T
        return means.T, np.maximum(self.parameters.sill - explained, 0.0)

    def at(self, support: Support) -> tuple[Array, Array]:
        """Mean of each draw (m, d) [log10 unit] and variance (m,) of the field over supports."""
        self.prepare()
        probe = Probe.of(self, support)
        explained, _ = whiten(self.system, probe.cross.copy(), None)
        return self.means(probe), np.maximum(probe.prior - explained, 0.0)

    def means(self, probe: Probe) -> Array:
        """Mean of each draw over supports, shape (m, d) [log10 unit]."""
        plumes = self.mean.prior.averaged(self.vectors, probe.places, probe.weights).T
        return np.asarray(plumes + probe.cross @ self.duals)


@dataclass(frozen=True, eq=False)
class Probe:
    """Supports seen by a member: where a test is predicted or proposed.

    `places` (m, g, 3) [m] are Gauss points, `scaled` (g, 3, m) [-] the same in the frame,
    `weights` (g,) [-] theirs; `cross` (m, n) and `prior` (m,) [log10 squared] are covariance with
    the data and variance before them; `basis` (m, r) [-] is the mean's.
    """

    places: Array
    scaled: Array
    weights: Array
    cross: Array
    basis: Array
    prior: Array

    @classmethod
    def of(cls, member: Member | PlumeMember, support: Support) -> Probe:
        """Average over the Gauss points of each support."""
        system = member.system
        length = np.linalg.norm(system.frame.turn(support.chord), axis=1)
        layered = member.data.strata is not None
        node, weights = gauss_rule(nodes_for(float(length.max()), layered=layered))
        places = support.along(node)
        shares = shares_of(numbers_of(member.data.strata, places), weights)
        count, nodes = places.shape[:2]
        cross = system.cross(places.reshape(-1, 3)).reshape(count, nodes, -1)
        return cls(
            places,
            np.ascontiguousarray(system.frame.place(places).transpose(1, 2, 0)),
            weights,
            np.einsum("g,mgn->mn", weights, cross),
            member.mean.over(places, weights)[1],
            member.parameters.sill * system.layout.covariance.within_parts(length, shares)[0],
        )

    def between(self, member: Member | PlumeMember, xyz: Array) -> Array:
        """Covariance of cells (k, 3) [m] with the supports, shape (k, m) [log10 squared]."""
        out = np.empty((len(xyz), self.scaled.shape[2]))
        places = np.ascontiguousarray(member.system.frame.place(xyz))
        shape = member.system.layout.covariance.shape
        shares = fixed(member.parameters.sill * self.weights)
        fill(places, self.scaled, shares, shape, out)
        return out

    def only(self, columns: NDArray[np.intp]) -> Probe:
        """Some of the supports."""
        return Probe(
            self.places[columns],
            np.ascontiguousarray(self.scaled[:, :, columns]),
            self.weights,
            self.cross[columns],
            self.basis[columns],
            self.prior[columns],
        )
