"""Transmissivity: K added up over a thickness, from simulated fields."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.products.maps.columns import simulated
from geoprofile.products.maps.mapping import MappedField

Array: TypeAlias = NDArray[np.float64]
LAYERS = 12
QUANTILES = {"low": 0.1, "median": 0.5, "high": 0.9}


def transmissivity(
    field: MappedField,
    xy: Array,
    top: Array,
    base: Array,
    *,
    realisations: int,
    rng: np.random.Generator,
) -> dict[str, Array] | None:
    """Quantiles of the transmissivity between two surfaces.

    Parameters
    ----------
    field : MappedField
        Of K [m/s].
    xy : Array, shape (n, 2) [m]
        Map points.
    top, base : Array, shape (n,) [m]
        Elevations; the top is not below the base.
    realisations : int [-]
        Simulated fields.
    rng : Generator
        Source of randomness.

    Returns
    -------
    dict of str to Array, shape (n,) [m2/s], or None
        `low` (10 %), `median` and `high` (90 %); None where the field cannot be simulated.

    Notes
    -----
    Each simulated field is added up over twelve layers that follow the surfaces, so that the range
    holds how K hangs together over depth: quantiles of K at single depths would not add up.

    Examples
    --------
    K of 1e-4 m/s everywhere between 10 m and 2 m gives 8e-4 m2/s.
    """
    share = (np.arange(LAYERS) + 0.5) / LAYERS
    z = base[:, None] + share * (top - base)[:, None]
    points = np.column_stack([np.repeat(xy, LAYERS, axis=0), z.ravel()])
    drawn = simulated(field, points, realisations=realisations, rng=rng)
    if drawn is None:
        return None
    mean = drawn.reshape(len(drawn), len(xy), LAYERS).mean(axis=2)
    found = np.quantile(mean * (top - base), list(QUANTILES.values()), axis=0)
    return dict(zip(QUANTILES, found, strict=True))
