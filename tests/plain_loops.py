"""The compiled loops of kriging once more, in numpy: what their tests compare them with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfcx

from geoprofile.kriging.predict.plume_shape import (
    EDGE_SHARE,
    EXTRA,
    LN10,
    PATCH,
    SHAPE,
    PlumePrior,
)

Array = NDArray[np.float64]
TINY = 1e-30
MOST_KNOWN = 1.0 - 1e-9
LEAST_ADDED, REACH = 1e-5, 14.0


def fill(targets: Array, points: Array, weights: Array, shape: Array, out: Array) -> None:
    """`fill` of the kernels."""
    c1, c2, c3, decay, cut = shape
    out[:] = 0.0
    for place, weight in zip(points, weights, strict=True):
        h = np.zeros_like(out)
        for axis in range(3):
            h += (targets[:, axis, None] - place[axis][None, :]) ** 2
        np.minimum(np.sqrt(h, out=h), cut, out=h)
        out += weight * (1.0 + h * (c1 + h * (c2 + h * c3))) * np.exp(-decay * h)


def slopes(points: Array, weights: Array, shape: Array, factor: Array) -> Array:
    """`slopes` of the kernels."""
    c1, c2, c3, decay, cut = shape
    sums = np.zeros(5)
    for here, w1 in zip(points, weights, strict=True):
        for there, w2 in zip(points, weights, strict=True):
            a, b, c = here[:, :, None] - there[:, None, :]
            h = np.minimum(np.sqrt(a * a + b * b + c * c), cut)
            cubic = 1.0 + h * (c1 + h * (c2 + h * c3))
            slope = c1 + h * (2.0 * c2 + h * 3.0 * c3) - decay * cubic
            pull = w1 * w2 * factor * slope * np.exp(-decay * h) / (h + TINY)
            sums += [(pull * t).sum() for t in (a * a, b * b, c * c, a * b, b * c)]
    return sums


def gains(
    half_square: Array, known: Array, added: Array, node: Array, weight: Array, out: Array
) -> None:
    """`gains` of the kernels."""
    low = _stretched(known)[:, None]
    share = np.minimum(known[:, None] + added, MOST_KNOWN)
    width = _stretched(share) - low
    out[:] = 0.0
    for x, w in zip(node, weight, strict=True):
        s = low + width * x
        q = 1.0 - s
        power = -half_square[:, None] * (1.0 + (q / (s + TINY)) ** 2)
        out += w * np.exp(np.maximum(power, -700.0)) / (q * q + s * s)
    out *= width / np.pi
    out[(added < LEAST_ADDED) | (half_square[:, None] > REACH * share)] = 0.0


def log10_plume(prior: PlumePrior, vectors: Array, xyz: Array) -> Array:
    """`log10_concentration` in logarithms throughout, which loses no tail, shape (d, m)."""
    shape = (prior.centre + prior.sd * vectors).T[:, :, None]
    part = dict(zip(SHAPE + EXTRA[prior.kind], shape, strict=True))
    places = (xyz - prior.origin) @ prior.frame.T
    total = LN10 * part["log10_background"]
    for seat in ("", "_2") if prior.kind == "two plumes" else ("",):
        from_there = places.T[:, None] - [part[n + seat] for n in ("along", "across", "up")]
        source = _ln_source(prior, part, *from_there)
        total = np.logaddexp(total, source + LN10 * part["log10_source" + seat])
    return np.asarray(total / LN10)


def _ln_source(prior: PlumePrior, part: dict[str, Array], x: Array, y: Array, z: Array) -> Array:
    """Ln of one source's share of its own strength, shape (d, m)."""
    turn = part["azimuth"] - prior.centre[SHAPE.index("azimuth")]
    ahead, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    u = ahead * np.cos(part["dip"]) - z * np.sin(part["dip"])
    w = ahead * np.sin(part["dip"]) + z * np.cos(part["dip"])
    if prior.kind == "bending plume":
        wave = 2.0 * np.pi * u / np.exp(part["ln_wave"])
        v = v - part["bend"] * (np.sin(wave + part["phase"]) - np.sin(part["phase"]))
    down = np.maximum(u, 0.0)
    found = np.minimum(u, 0.0) / np.exp(part["ln_edge"]) - np.exp(part["ln_decay"]) * down
    for away, size, spread in ((v, "ln_width", "across"), (w, "ln_height", "up")):
        box = np.exp(part[size])
        growth = 2.0 * np.exp(part["ln_spread_" + spread]) * down
        if prior.kind == PATCH:
            found = found + ln_box(away, 0.5 * box, (EDGE_SHARE * box) ** 2 + growth)
        else:
            start = box * box / 12.0
            found = found - 0.5 * (away**2 / (start + growth) + np.log1p(growth / start))
    return np.asarray(found)


def ln_box(distance: Array, half: Array, variance: Array) -> Array:
    """Ln of half the difference of two error functions."""
    scale, h, v = 1.0 / np.sqrt(2.0 * variance), half, np.abs(distance)
    a, b = (h - v) * scale, (h + v) * scale
    near, far = erfcx(np.abs(a)), erfcx(b) * np.exp(-2.0 * h * v / variance)
    inside = 1.0 - 0.5 * np.exp(-a * a) * (near + far)
    share = np.where(a < 0.0, 0.5 * (near - far), inside)
    return np.asarray(np.log(share) - np.where(a < 0.0, a * a, 0.0))


def _stretched(share: Array) -> Array:
    """Share of variance to the variable of integration, w/(1+w) with w^2 = share/(1-share)."""
    w = np.sqrt(share / (1.0 - share))
    return np.asarray(w / (1.0 + w))
