"""Data laid out for the covariance: Gauss points, basis of the mean, and what overlaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.anisotropy_frame import Frame
from geoprofile.kriging.covariance.data import Data, Parameters
from geoprofile.kriging.covariance.functions import COVARIANCES, Covariance
from geoprofile.kriging.covariance.overlaps import Overlaps
from geoprofile.kriging.covariance.strata import Strata, numbers_of, shares_of
from geoprofile.kriging.covariance.support import gauss_rule, nodes_for
from geoprofile.kriging.solve.trend import Mean

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
    overlaps: Overlaps

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
            # In layers, part of an interval may know nothing of the rest.
            Overlaps.of(()) if layered else data.support.overlaps,
        )
