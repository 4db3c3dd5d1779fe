"""Covariances of cells with many data, times the data's weights, without keeping them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.geostat.kernels import fill, fill_single
from geoprofile.geostat.system import System

Array = NDArray[np.float64]

# Data at a time: a block of cells by so many fits into the cache of a processor.
PANEL = 1024
# What single precision may cost [log10 unit] at so many of the data.
MOST_ERROR = 5e-6
PROBES = 256
KINDS = (np.float64, np.float32)


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
    def kind(self) -> type[np.floating[Any]]:
        """Precision of the sums: single where that is measured to do."""
        return np.float32 if self.single_error <= MOST_ERROR else np.float64

    @cached_property
    def panels(self) -> list[tuple[Array, Array]]:
        """Gauss points (g, 3, k) [-] and weights times sill (k, d) of the data, some at a time."""
        weights = self.system.parameters.sill * self.weights
        scaled, starts = self.system.scaled, range(0, len(weights), PANEL)
        return [
            (np.ascontiguousarray(scaled[:, :, at : at + PANEL]), weights[at : at + PANEL])
            for at in starts
        ]

    def at(self, places: Array) -> Array:
        """Sums at places in the frame, shape (m, 3) [-] to (m, d) [log10 unit]."""
        return self._over(places, self.kind)

    def _over(self, places: Array, kind: type[np.floating[Any]]) -> Array:
        layout = self.system.layout
        # Seen from the middle of the cells, data that matter have small coordinates.
        middle = places.mean(0)
        targets = (places - middle).astype(kind)
        loop = fill if kind is np.float64 else fill_single
        shares, shape = layout.weights.astype(kind), layout.covariance.shape.astype(kind)
        total = np.zeros((len(places), self.weights.shape[1]))
        for scaled, weights in self.panels:
            out = np.empty((len(places), len(weights)), dtype=kind)
            loop(targets, (scaled - middle[:, None]).astype(kind), shares, shape, out)
            total += out @ weights.astype(kind)
        return total
