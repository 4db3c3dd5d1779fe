"""Back from the Laplace domain along a fixed Talbot contour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.hydraulics.tests import Array

NODES = 24  # [-] 1e-10 and better for recoveries that do not oscillate

Complex: TypeAlias = NDArray[np.complex128]
Transform: TypeAlias = Callable[[Complex], Complex]


@dataclass(frozen=True, eq=False)
class Rays:
    """The rays from 0 through the points of a contour: `point` and `weight` of `contour`, ln of the
    size `log_size` and the direction `turn` of every point, shape (nodes,) [-]; the largest of
    `log_size` is `furthest`.
    """

    point: Complex
    weight: Complex
    log_size: Array
    turn: Complex
    furthest: float

    def over(self, time: Array) -> Complex:
        """Points of the contour for times (n,), shape (n, nodes) [1 per unit of time]."""
        both = self.point.view(np.float64) * (1.0 / time)[:, None]  # real and imaginary parts
        return both.view(np.complex128)


@lru_cache(maxsize=4)
def rays(nodes: int) -> Rays:
    """The rays of a contour.

    Parameters
    ----------
    nodes : int [-]
        Number of points.

    Returns
    -------
    Rays [-]
        One for each point.

    References
    ----------
    As for `contour`.
    """
    point, weight = contour(nodes)
    size = np.abs(point)
    log_size = np.log(size)
    return Rays(point, weight, log_size, point / size, float(log_size.max()))


def contour(nodes: int) -> tuple[Complex, Complex]:
    """Points and weights for t = 1: f(t) = Re sum(weight F(point/t)) / t.

    Parameters
    ----------
    nodes : int [-]
        Number of points; 0.6 digits each, until rounding takes over near 36.

    Returns
    -------
    tuple of Array, shape (nodes,) complex [-]
        Points and weights.

    References
    ----------
    Abate and Valko (2004), International Journal for Numerical Methods in Engineering 60,
    979-993; from memory.
    """
    scale = 0.4 * nodes
    angle = np.arange(1, nodes) * np.pi / nodes
    cot = 1.0 / np.tan(angle)
    point = np.empty(nodes, dtype=np.complex128)
    weight = np.empty(nodes, dtype=np.complex128)
    point[0], weight[0] = scale, 0.5 * np.exp(scale)
    point[1:] = scale * angle * (cot + 1j)
    turn = angle + (angle * cot - 1.0) * cot
    weight[1:] = np.exp(point[1:]) * (1.0 + 1j * turn)
    return point, 0.4 * weight


def invert(transform: Transform, time: Array, *, nodes: int = NODES) -> Array:
    """Function of time from its Laplace transform.

    Parameters
    ----------
    transform : callable [-]
        Takes an array of complex Laplace variables [1/s or per unit of time], returns F.
    time : Array, shape (n,) [s]
        Above 0.
    nodes : int [-]
        Points of the contour.

    Returns
    -------
    Array, shape (n,) [-]
        In the unit of F times the unit of the Laplace variable.

    Notes
    -----
    All singularities must lie left of the contour: not for functions that oscillate many times.

    References
    ----------
    Abate and Valko (2004), from memory.

    Examples
    --------
    1/(s + 1) at t = 1 gives exp(-1) = 0.36788.
    """
    point, weight = contour(nodes)
    value = transform((point / time[:, None]).ravel()).reshape(time.size, nodes)
    return np.asarray((value @ weight).real / time)
