"""Recovery of a well that is coupled to ground with storage: one engine for every geometry.

In the time tau = 2 L K t / rc^2 the recovery depends on alpha = rw^2 Ss L / rc^2 and the geometry
alone: K only stretches time. In the Laplace variable s of tau, H/H0 = P(s) / (1 + s P(s)).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import spherical_jn

from geoprofile.hydraulics.bessel import ratio_slopes, sum_of_modes
from geoprofile.hydraulics.laplace import NODES, contour
from geoprofile.hydraulics.tests import Array

FEWEST_MODES, MOST_MODES = 500, 60_000
MODES_REACH, ENDS_REACH = 20.0, 6.0  # [-] the last wave at the wall: of P, of what the ends add
ROUGH_RATIO = 5.0  # [-] of radial flow in a closed layer, to weigh its share
FAR = 15.0  # [-] interval lengths that stand for infinitely far


@dataclass(frozen=True)
class Ends:
    """Water in the hole has one head, so more leaves at the ends than even flow has it.

    P of even flow is multiplied by 1 - `steady` / (1 + `fade` q^(3/4)), q = rw^2 Ss p / K: early,
    when flow is still radial, the ends count for nothing.
    """

    steady: float = 0.0
    fade: float = 0.0

    def share(self, q: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """P with one head over P of even flow, at q (n,) [-]."""
        return np.asarray(1.0 - self.steady / (1.0 + self.fade * q**0.75))


NO_ENDS = Ends()
ENDS_AT = 0.1  # [-] q at which their fading is computed
LEAST_ENDS = 1e-6  # [-] below which an interval has no ends: it opens the whole layer


@dataclass(frozen=True, eq=False)
class Modes:
    """Vertical modes of one geometry, ready for summation.

    `weight` (n,) and `wave` (n,) [-], `tail` (n + 1, 3) [-]: see `sum_of_modes`; `ends` is what
    the ends of an interval with one head give up.
    """

    weight: Array
    wave: Array
    tail: Array
    ends: Ends = NO_ENDS


def radial_modes() -> Modes:
    """The single mode of an interval that opens the whole thickness.

    Returns
    -------
    Modes [-]
        Flow is radial: P = K0(x)/(x K1(x)) with x^2 = 2 alpha s.

    References
    ----------
    Cooper, Bredehoeft and Papadopulos (1967), Water Resources Research 3(1), 263-269.
    """
    return Modes(np.ones(1), np.zeros(1), np.zeros((2, 3)))


def layer_modes(
    top: float, bottom: float, thickness: float, radius: float, *, kv_kh: float, water_table: bool
) -> Modes:
    """Modes of an interval within a layer with a tight base.

    Parameters
    ----------
    top, bottom : float [m]
        Of the interval, below the top of the layer.
    thickness : float [m]
        Of the layer.
    radius : float [m]
        Of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.
    water_table : bool [-]
        True when the head stays fixed at the top, False when the top is tight.

    Returns
    -------
    Modes [-]
        Weights and wave numbers.

    Notes
    -----
    Uniform flow along the interval, head averaged over it. The boundary-value problem is that of
    Hyder et al. (1994); the solution is an own derivation, held against a finite-volume run.
    """
    layer = _Layer(top, bottom, thickness, radius, kv_kh, water_table)
    return _modes(layer, ratio_slopes(layer.waves(MODES_REACH)[1] ** 2))


@dataclass(frozen=True)
class _Layer:
    """An interval in a layer, as `layer_modes` takes it."""

    top: float
    bottom: float
    thickness: float
    radius: float
    kv_kh: float
    water_table: bool

    def waves(self, reach: float) -> tuple[Array, Array]:
        """Wave numbers that count up to a wave of `reach` at the wall: [1/m], and times the radius
        of the hole in even ground [-].
        """
        scale = self.radius * math.sqrt(self.kv_kh) * math.pi / self.thickness
        count = int(np.clip(reach / scale, FEWEST_MODES, MOST_MODES))
        number = np.arange(1.0, count) - (0.5 if self.water_table else 0.0)
        return number * math.pi / self.thickness, scale * number


def _modes(layer: _Layer, slopes: Array) -> Modes:
    """Modes of a layer, from `ratio_slopes` at the squares of its waves (n, 3)."""
    top, bottom, thickness = layer.top, layer.bottom, layer.thickness
    length = bottom - top
    k, wave = layer.waves(MODES_REACH)
    if layer.water_table:
        shape = (np.cos(k * top) - np.cos(k * bottom)) / k
    else:
        shape = (np.sin(k * bottom) - np.sin(k * top)) / k
    weight = 2.0 / (length * thickness) * shape**2
    tail = np.zeros((weight.size + 1, 3))
    tail[:-1] = (weight[:, None] * slopes)[::-1].cumsum(0)[::-1]
    if layer.water_table:
        return Modes(weight, wave, tail)
    # the mode without waves has storage alone and never goes to the tail
    full = np.concatenate((np.full((1, 3), np.nan), tail))
    return Modes(np.append(length / thickness, weight), np.append(0.0, wave), full)


def one_head_share(
    top: float,
    bottom: float,
    thickness: float,
    radius: float,
    *,
    kv_kh: float,
    water_table: bool,
    q: float = 0.0,
) -> float:
    """P with one head along the interval over P with even flow.

    Parameters
    ----------
    top, bottom : float [m]
        Of the interval, below the top of the layer.
    thickness : float [m]
        Of the layer.
    radius : float [m]
        Of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.
    water_table : bool [-]
        Whether the head stays fixed at the top.
    q : float [-]
        rw^2 Ss p / K; 0 is the steady state.

    Returns
    -------
    float [-]
        0.96 to 1: water in the hole has one head, and more of it leaves at the ends.

    Notes
    -----
    Ritz: the flow is even plus Legendre polynomials of even degree to 8, the steady P is least.
    Against a finite-volume model the time lag is then met within 0.3 %.

    References
    ----------
    Own derivation.
    """
    layer = _Layer(top, bottom, thickness, radius, kv_kh, water_table)
    return _one_head(layer, {q: ratio_slopes(layer.waves(ENDS_REACH)[1] ** 2 + q)[:, 0]})[0]


def _one_head(layer: _Layer, flows: Mapping[float, Array]) -> list[float]:
    """`one_head_share` at several q, from the flow per head of every mode at each (n,) [-]."""
    length, middle = layer.bottom - layer.top, 0.5 * (layer.top + layer.bottom)
    k, _ = layer.waves(ENDS_REACH)
    turn = np.sin(k * middle) if layer.water_table else np.cos(k * middle)
    degree = np.arange(0, 9, 2)[:, None]
    shape = (-1.0) ** (degree // 2) * turn * spherical_jn(degree, 0.5 * k * length)
    shares = []
    for q, flow in flows.items():
        energy = 2.0 * length / layer.thickness * (shape * flow) @ shape.T
        gain = float(energy[0, 1:] @ np.linalg.solve(energy[1:, 1:], energy[0, 1:]))
        radial = ROUGH_RATIO if q == 0 else float(ratio_slopes(np.array([q]))[0, 0])
        rough = min(ROUGH_RATIO, radial)
        closed = 0.0 if layer.water_table else rough * length / layer.thickness
        shares.append(1.0 - gain / (float(energy[0, 0]) + closed))
    return shares


@lru_cache(maxsize=32)  # repeats of a test share their geometry
def ground_modes(
    length: float,
    radius: float,
    *,
    kv_kh: float,
    upper_boundary_distance: float | None,
    base_distance: float | None,
    water_table: bool,
) -> Modes:
    """Modes of an interval in ground whose boundaries may be far or unknown.

    Parameters
    ----------
    length, radius : float [m]
        Of the interval and the hole.
    kv_kh : float [-]
        Vertical over horizontal K.
    upper_boundary_distance, base_distance : float [m]
        From the interval up to the top and down to the base; None when far.
    water_table : bool [-]
        Whether the top, if near, is a water table rather than an impermeable upper boundary.

    Returns
    -------
    Modes [-]
        Weights and wave numbers.

    Notes
    -----
    The hole has one head: P of even flow is multiplied by `one_head_share`, which fades early.
    A boundary that is far is set 15 lengths away. So that the ground can reach a steady state one
    boundary always has a fixed head; set far away beside a tight one it moves P by under 1 %.
    """
    far = FAR * max(length, 2.0 * radius)
    up = far if upper_boundary_distance is None else min(max(upper_boundary_distance, 0.0), far)
    down = far if base_distance is None else min(max(base_distance, 0.0), far)
    upper_boundary_is_impermeable = (
        upper_boundary_distance is not None and up < far and not water_table
    )
    base_is_tight = base_distance is not None and down < far
    if upper_boundary_is_impermeable and not base_is_tight:
        up, down = down, up  # turned upside down: the far end takes the fixed head
        upper_boundary_is_impermeable = False
    fixed_top = not upper_boundary_is_impermeable
    layer = _Layer(up, up + length, up + length + down, radius, kv_kh, fixed_top)
    slopes = ratio_slopes(layer.waves(MODES_REACH)[1] ** 2)
    modes = _modes(layer, slopes)
    wave = layer.waves(ENDS_REACH)[1]  # the first of the same
    flows = {0.0: slopes[: wave.size, 0], ENDS_AT: ratio_slopes(wave**2 + ENDS_AT)[:, 0]}
    steady, early = (1.0 - share for share in _one_head(layer, flows))
    if steady < LEAST_ENDS:
        return modes
    left = float(np.clip(early / steady, 0.01, 0.95))
    ends = Ends(steady, (1.0 / left - 1.0) / ENDS_AT**0.75)
    return Modes(modes.weight, modes.wave, modes.tail, ends)


def log_ratio_transform(
    s: NDArray[np.complex128], alpha: float, modes: Modes, *, accuracy: float = 1e-6
) -> NDArray[np.complex128]:
    """P in the Laplace domain.

    Parameters
    ----------
    s : Array, shape (m,) complex [-]
        Laplace variable of tau.
    alpha : float [-]
        rw^2 Ss L / rc^2.
    modes : Modes [-]
        The geometry.
    accuracy : float [-]
        Third-order remainder of one mode that is left to the closed tail.

    Returns
    -------
    Array, shape (m,) complex [-]
        P(s).
    """
    storage = np.asarray(2.0 * alpha * s, dtype=np.complex128)
    even = sum_of_modes(storage, modes.weight, modes.wave, modes.tail, accuracy)
    return np.asarray(even * modes.ends.share(storage))


def steady_log_ratio(modes: Modes) -> float:
    """P when storage no longer matters.

    Parameters
    ----------
    modes : Modes [-]
        A geometry with a fixed head somewhere.

    Returns
    -------
    float [-]
        P; not a number for a geometry without a steady state.
    """
    steady = float(modes.tail[0, 0]) if modes.wave[0] > 0 else math.nan
    return steady * (1.0 - modes.ends.steady)


def recovery(tau: Array, alpha: float, modes: Modes, *, nodes: int = NODES) -> Array:
    """H/H0 after an instantaneous displacement.

    Parameters
    ----------
    tau : Array, shape (n,) [-]
        2 L K t / rc^2, above 0.
    alpha : float [-]
        rw^2 Ss L / rc^2.
    modes : Modes [-]
        The geometry.
    nodes : int [-]
        Points of the contour.

    Returns
    -------
    Array, shape (n,) [-]
        H/H0.

    Examples
    --------
    Radial, alpha 1e-3, tau 2 (beta 1): 0.5729.
    """
    point, weight = contour(nodes)
    s = (point / tau[:, None]).ravel()
    # the contour magnifies any unevenness between its points by exp(0.4 nodes)
    p = log_ratio_transform(s, alpha, modes, accuracy=0.2 * math.exp(-0.4 * nodes))
    value = (p / (1.0 + s * p)).reshape(tau.size, nodes)
    return np.asarray((value @ weight).real / tau)
