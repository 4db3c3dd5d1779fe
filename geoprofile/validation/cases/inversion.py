"""Laplace inversions by another algorithm than the engine's, for second routes."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from scipy.integrate import quad
from scipy.special import j0, j1, y0, y1


def stehfest(transform: Callable[[float], float], time: float, terms: int = 14) -> float:
    """A function of time from its transform on the real axis (Stehfest 1970, from memory).

    Parameters
    ----------
    transform : callable
        Of the Laplace variable, real [1/s].
    time : float [s]
        Above 0.
    terms : int [-]
        Even; 14 is the most that doubles bear.

    Returns
    -------
    float
        Good to 4 or 5 digits for smooth functions.
    """
    half = terms // 2
    total = 0.0
    for i in range(1, terms + 1):
        weight = math.fsum(
            k**half
            * math.factorial(2 * k)
            / (
                math.factorial(half - k)
                * math.factorial(k)
                * math.factorial(k - 1)
                * math.factorial(i - k)
                * math.factorial(2 * k - i)
            )
            for k in range((i + 1) // 2, min(i, half) + 1)
        )
        total += (-1) ** (half + i) * weight * transform(i * math.log(2) / time)
    return total * math.log(2) / time


def recovery_by_integral(alpha: float, beta: float) -> float:
    """H/H0 of a well with storage, by the real integral of Bessel functions.

    Parameters
    ----------
    alpha, beta : float [-]
        Storage of the ground over that of the well, and scaled time T t / rc^2.

    Returns
    -------
    float [-]
        8 alpha / pi^2 times the integral of exp(-beta u^2 / alpha) / (u D(u)).

    References
    ----------
    Carslaw and Jaeger (1959), section 13.5: a hot cylinder of perfect conductor; from memory.
    """

    def inner(log_u: float) -> float:
        u = math.exp(log_u)
        d = (u * j0(u) - 2 * alpha * j1(u)) ** 2 + (u * y0(u) - 2 * alpha * y1(u)) ** 2
        return math.exp(-beta * u * u / alpha) / float(d)

    top = 0.5 * math.log(40.0 * alpha / beta)
    edges = np.linspace(-60.0, top, 25)
    parts = [quad(inner, a, b, epsabs=1e-12)[0] for a, b in pairwise(edges)]
    return 8.0 * alpha / math.pi**2 * math.fsum(parts)
