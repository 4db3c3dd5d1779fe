"""What is known at a place that may lie on either side of a contact: a mixture of two normals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]

HALVINGS = 40


@dataclass(frozen=True, eq=False)
class TwoSides:
    """Mixtures of two normals, one per place, all shape (k,).

    `chance` [-] of the other side; `mean` and `sd` here, `other_mean` and `other_sd` there
    [log10 unit].
    """

    chance: Array
    mean: Array
    sd: Array
    other_mean: Array
    other_sd: Array

    def moments(self) -> tuple[Array, Array]:
        """Mean and standard deviation.

        Returns
        -------
        tuple of Array, shape (k,) [log10 unit]
            Of the mixture.
        """
        p = self.chance
        mean = (1.0 - p) * self.mean + p * self.other_mean
        inner = (1.0 - p) * self.sd**2 + p * self.other_sd**2
        return mean, np.sqrt(inner + p * (1.0 - p) * (self.mean - self.other_mean) ** 2)

    def below(self, level: Array) -> Array:
        """Probability of lying below a level.

        Parameters
        ----------
        level : Array, shape (k,) [log10 unit]
            Where the distribution is read.

        Returns
        -------
        Array, shape (k,) [-]
            Between 0 and 1.
        """
        here = ndtr((level - self.mean) / np.maximum(self.sd, 1e-12))
        there = ndtr((level - self.other_mean) / np.maximum(self.other_sd, 1e-12))
        return np.asarray(here + self.chance * (there - here))

    def quantile(self, probability: float) -> Array:
        """Level with a given probability below it, by halving.

        Parameters
        ----------
        probability : float [-]
            Between 0 and 1.

        Returns
        -------
        Array, shape (k,) [log10 unit]
            To a millionth of the range that eight standard deviations span.
        """
        low = np.minimum(self.mean - 8.0 * self.sd, self.other_mean - 8.0 * self.other_sd)
        high = np.maximum(self.mean + 8.0 * self.sd, self.other_mean + 8.0 * self.other_sd)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            short = self.below(middle) < probability
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.asarray(0.5 * (low + high))
