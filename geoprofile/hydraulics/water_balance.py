"""Water outside the zone, balanced: what comes past the element stands there or leaves again.

The level in an annulus of area A1 follows A1 dh1/dt = Gl (H - h1) - Go h1: Gl lets water in, Go is
what the open hole above loses. While the level keeps pace with the head in the zone the readings
tell Gl/Go alone, so Go is thought from the open hole and the K of the test itself, within a factor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geoprofile.hydraulics.tests import Array

LOSS_SD_LN = 1.0  # [-] scale of ln of the K of the open hole above over that of the zone
LOWEST, HIGHEST, TAIL = -7.0, 3.0, 3.0  # range of it; degrees of freedom: a hole may be tight
LEAST, MOST, WAYS, LOSSES = 1e-3, 20.0, 90, 31  # Gl over all that leaves; steps of the sums
ALONE = 8  # readings that count as independent, however many there are: the rest is the model


@dataclass(frozen=True, eq=False)
class Balance:
    """Spans of time (n,) with the mean head in the zone and what was read outside.

    `seconds` of each span, `head_m` in the zone, `outside_m` with its sd (not a number where
    nothing was read), `volume_m3` that left the zone in all, `area_m2` of the annulus.
    `over_span` says that the reading is a mean over the span, else it stands at its end.
    """

    seconds: Array
    head_m: Array
    outside_m: Array
    outside_sd_m: Array
    volume_m3: float
    area_m2: float
    over_span: bool


def passed_share(balance: Balance, conductance: float, loss: float) -> tuple[float, float]:
    """Share of the water that came past the element or round it.

    Parameters
    ----------
    balance : Balance [-]
        Heads and volume.
    conductance : float [m2/s]
        Flow out of the zone per metre of its head, leak and all.
    loss : float [-]
        What the open hole loses per metre of head over what the zone itself does, as geometry has
        it.

    Returns
    -------
    tuple of float [-]
        Geometric mean and sd.

    References
    ----------
    Own derivation; the level is exact within each span.
    """
    part = np.geomspace(LEAST, MOST, WAYS)
    apart = np.linspace(LOWEST, HIGHEST, LOSSES)
    way = conductance * part[:, None]
    lost = conductance / (1.0 + part[:, None]) * loss * np.exp(LOSS_SD_LN * apart)
    level, mean = levels(way, lost, balance)
    seen = np.isfinite(balance.outside_m)
    read = mean if balance.over_span else level
    miss = ((read - balance.outside_m) / balance.outside_sd_m)[..., seen]
    log = -0.5 * (miss**2).mean(-1) * min(ALONE, int(seen.sum()))
    log = log - 0.5 * (TAIL + 1.0) * np.log1p(apart**2 / TAIL)  # of Student
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    volume = (way[..., None] * (balance.head_m - mean) * balance.seconds).sum(-1)
    share = np.clip(volume / balance.volume_m3, 1e-4, 1.0)
    centre = math.exp(float((weight * np.log(share)).sum()))  # Go is known by a factor, so is this
    return centre, math.sqrt(float((weight * (share - centre) ** 2).sum()))


def levels(way: Array, lost: Array, balance: Balance) -> tuple[Array, Array]:
    """Level outside at the end of every span and its mean over it.

    Parameters
    ----------
    way, lost : Array, shape (w, 1), (w, l) [m2/s]
        Gl and Go.
    balance : Balance [-]
        Spans and heads.

    Returns
    -------
    tuple of Array, shape (w, l, n) [m]
        Level and mean.
    """
    both = way + lost
    level = np.zeros(both.shape)
    ends = np.empty((*both.shape, balance.head_m.size))
    means = np.empty_like(ends)
    for i, (head, time) in enumerate(zip(balance.head_m, balance.seconds, strict=True)):
        rest = way / both * head
        turn = np.maximum(both * time / balance.area_m2, 1e-9)
        means[..., i] = rest + (level - rest) * -np.expm1(-turn) / turn
        level = rest + (level - rest) * np.exp(-turn)
        ends[..., i] = level
    return ends, means
