"""The kriged part of cells and the variance that data explain: from all, or those that matter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas

from geoprofile.kriging.solve.local import MOST_GLOBAL, local_explained

if TYPE_CHECKING:
    from geoprofile.kriging.solve.sums import Sums
    from geoprofile.kriging.solve.system import System

Array = NDArray[np.float64]


def prepare(sums: Sums, *, exact: bool) -> None:
    """Compute what all blocks share.

    Parameters
    ----------
    sums : Sums
        Of a member with n data [-].
    exact : bool
        Whether the variance is to come from all data, however many.

    Returns
    -------
    None
        It is kept where it is.
    """
    system = sums.system
    if exact or len(sums.weights) <= MOST_GLOBAL:
        _ = system.inverse_lower, system.half
        return
    _ = sums.kind, system.tree if system.layout.strata is None else system.node_tree


def kriging(
    sums: Sums, xyz: Array, basis: Array | None, *, exact: bool
) -> tuple[Array, Array, Array]:
    """Kriged part of cells, and the variance that the data explain: all, or those that matter.

    Parameters
    ----------
    sums : Sums
        Of a member with n data [-] and d draws.
    xyz : Array, shape (m, 3) [m]
        Cells.
    basis : Array, shape (m, r) [-]
        Of the mean at the cells; None where it is not asked for.
    exact : bool
        Variance from all data, however many.

    Returns
    -------
    tuple of Array, shape (m, d) [log10 unit], (m,) [log10 squared] and (m, r) [-]
        Kriged part, explained variance, and the part of the basis that the data do not carry.
    """
    system = sums.system
    if exact or len(sums.weights) <= MOST_GLOBAL:
        cross = system.cross(xyz)
        return cross @ sums.weights, *whiten(system, cross, basis)
    if basis is None:
        basis = np.zeros((len(xyz), system.layout.basis.shape[1]))
    places = system.frame.place(xyz)
    strata = system.layout.strata
    if strata is None:
        return sums.at(places), *local_explained(system, places, basis)
    kriged = np.empty((len(xyz), sums.weights.shape[1]))
    explained, rest = np.empty(len(xyz)), np.empty_like(basis)
    layer = strata.number(xyz)
    # Layer by layer: what is near to some cells is far from those of other layers.
    for number in np.unique(layer):
        rows = np.flatnonzero(layer == number)
        kriged[rows] = sums.at(places[rows])
        explained[rows], rest[rows] = local_explained(system, places[rows], basis[rows])
    return kriged, explained, rest


def whiten(system: System, cross: Array, basis: Array | None) -> tuple[Array, Array]:
    """Variance that all data explain, by the triangular inverse.

    Parameters
    ----------
    system : System
        Of n data [-].
    cross : Array, shape (m, n) [log10 squared]
        Covariance of cells with data; written over, as a copy takes longer than the product.
    basis : Array, shape (m, r) [-]
        Of the mean at the cells; None where it is not asked for.

    Returns
    -------
    tuple of Array, shape (m,) [log10 squared] and (m, r) [-]
        Explained variance, and the part of the basis that the data do not carry.
    """
    # the factor as its transpose and the cells as columns: both lie in memory as BLAS wants them
    upper = system.inverse_lower.T
    white = blas.dtrmm(1.0, upper, cross.T, lower=0, trans_a=1, overwrite_b=1).T
    explained = np.einsum("mk,mk->m", white, white)
    if basis is None:
        return explained, np.empty((len(cross), 0))
    return explained, np.asarray(basis - white @ system.half)
