"""Covariances of cells with many data, times the data's weights, without keeping them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from geoprofile.kriging.solve.system import Kind, System

Array = NDArray[np.float64]

# Data at a time: a block of cells by so many fits into the cache of a processor.
PANEL = 1024
# What single precision may cost at so many of the data [log10 unit]; elsewhere up to 1e-5.
MOST_ERROR = 4e-6
PROBES = 256
KINDS: tuple[Kind, ...] = (np.float64, np.float32)


@dataclass(frozen=True, eq=False)
class Sums:
    """Sums over the data of covariance times weight (n, d) [1 / log10]: the kriged part."""

    system: System
    weights: Array

    @cached_property
    def single_error(self) -> float:
        """Largest difference that single precision makes at the data, where sums are largest."""
        step = max(self.system.scaled.shape[2] // PROBES, 1)
        places = np.ascontiguousarray(self.system.scaled[:, :, ::step].mean(0).T)
        pairs = [self._over(places[i : i + 1], kind) for i in range(len(places)) for kind in KINDS]
        return float(np.abs(np.diff(np.array(pairs).reshape(-1, 2, pairs[0].size), axis=1)).max())

    @cached_property
    def kind(self) -> Kind:
        """Precision of the sums: single where that is measured to do."""
        return np.float32 if self.single_error <= MOST_ERROR else np.float64

    @cached_property
    def panels(self) -> list[tuple[Array, dict[Kind, NDArray[Any]]]]:
        """Gauss points (g, 3, k) [-] and weights (k, d) of some data at a time, by precision."""
        found = []
        for at in range(0, len(self.weights), PANEL):
            weights = self.weights[at : at + PANEL]
            scaled = np.ascontiguousarray(self.system.scaled[:, :, at : at + PANEL])
            found.append((scaled, {kind: weights.astype(kind) for kind in KINDS}))
        return found

    def at(self, places: Array) -> Array:
        """Sums at places in the frame, shape (m, 3) [-] to (m, d) [log10 unit]."""
        return self._over(places, self.kind)

    def _over(self, places: Array, kind: Kind) -> Array:
        total = np.zeros((len(places), self.weights.shape[1]))
        for scaled, weights in self.panels:
            if kind is np.float32 and total.shape[1] == 1:
                self.system.add_cross(places, scaled, weights[kind].ravel(), total.ravel())
                continue
            total += self.system.cross_placed(places, scaled, kind) @ weights[kind]
        return total
