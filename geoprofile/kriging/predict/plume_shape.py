"""A plume-shaped mean: sources that widen and fade along flow, on a background."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log, radians

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import fixed
from geoprofile.kriging.covariance.anisotropy_frame import axes, extents
from geoprofile.kriging.covariance.data import Data, Prior
from geoprofile.kriging.predict.compiled import COLUMNS, plumes

Array = NDArray[np.float64]

LN10 = log(10.0)
# Columns of the parameter vector, in prior units; the last ones only where the kind has them.
SHAPE = (
    "along", "across", "up", "ln_width", "ln_height", "log10_source", "ln_decay",
    "ln_spread_across", "ln_spread_up", "log10_background", "azimuth", "dip", "ln_edge",
)  # fmt: skip
EXTRA = {
    "plume": (),
    "bending plume": ("bend", "ln_wave", "phase"),
    "two plumes": ("along_2", "across_2", "up_2", "log10_source_2"),
}
STEP = 1e-4
# One straight plume has the section of a patch source; where plumes wind or meet, it is smeared.
PATCH = "plume"
# A patch's edges are smooth over an eighth of its width: a search cannot climb a cliff.
EDGE_SHARE = 0.125
MOST_LN = 700.0  # [-] ln of a source over the background that is still a number


@dataclass(frozen=True, eq=False)
class PlumePrior:
    """Independent normals on the shape of a plume, scaled by the site's extent.

    `frame` (3, 3) are axes along the expected flow, `origin` (3,) [m] the expected source.
    """

    kind: str
    origin: Array
    frame: Array
    centre: Array
    sd: Array

    @classmethod
    def of(cls, data: Data, prior: Prior, kind: str) -> PlumePrior:
        """Place the prior by the data's extent, their limits and where they are highest.

        Parameters
        ----------
        data : Data
            Shape (n,) [log10 unit], some detected.
        prior : Prior
            Direction of flow [degrees], if known.
        kind : str
            'plume', 'bending plume' or 'two plumes'.

        Returns
        -------
        PlumePrior
            Centre and sd of each number of the shape.
        """
        across, height = extents(data)
        seen = ~data.censored
        value = np.asarray(data.value)[seen]
        share = 10.0 ** (value - value.max())
        heart = (share @ data.support.centre[seen]) / share.sum()
        azimuth, azimuth_sd = 0.0, 1.8
        if prior.azimuth_deg is not None:
            azimuth = radians(prior.azimuth_deg)
            # A tight belief makes a wrong direction costly.
            azimuth_sd = max(0.45, radians(prior.azimuth_sd_deg))
        frame = axes(np.degrees(azimuth), 0.0)
        upper, _ = data.limits
        limit = float(np.median(upper[~seen])) if (~seen).any() else float(value.min()) - 0.3
        rows = [
            (-0.1 * across, 0.2 * across), (0.0, 0.15 * across), (0.0, 0.25 * height),
            (log(0.08 * across), 0.7), (log(0.12 * height), 0.6), (value.max() + 0.2, 0.7),
            (log(0.3 / across), 1.0), (log(0.004 * across), 1.0), (log(0.0015 * height), 1.0),
            (limit - 1.2, 0.8), (azimuth, azimuth_sd),
            (radians(prior.dip_deg), radians(prior.dip_sd_deg)), (log(0.01 * across), 1.0),
        ]  # fmt: skip
        if kind == "bending plume":
            rows += [(0.0, 0.02 * across), (log(0.6 * across), 0.4), (0.0, 1.8)]
        if kind == "two plumes":
            rows += [(0.0, 0.2 * across), (0.0, 0.15 * across), (0.0, 0.25 * height)]
            rows += [(value.max() - 0.3, 0.7)]
        centre, sd = np.array(rows).T
        return cls(kind, heart, frame, centre, sd)

    def log10_concentration(self, vectors: Array, xyz: Array) -> Array:
        """The plume at places, for many shapes at once.

        Parameters
        ----------
        vectors : Array, shape (d, p) [-]
            Shapes in prior units.
        xyz : Array, shape (m, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        Array, shape (d, m) [log10 unit]
            Background included.

        Notes
        -----
        C = background + sum C0 exp(-k u) S(v, Y, 2 a_y u) S(w, Z, 2 a_z u). S of a single plume
        is a box smoothed by a normal of that variance and that of its edges, (Y/8)^2: half the
        difference of two error functions. Otherwise it is a normal of that variance and the box's,
        Y^2/12. Upgradient of the source exp(u/edge) stands for exp(-k u), as longitudinal
        spreading has it.

        References
        ----------
        Domenico (1987), a patch source in its advective limit.
        """
        return self._along(vectors, np.atleast_2d(xyz).reshape(1, -1, 3), np.ones(1))

    def _along(self, vectors: Array, points: Array, weights: Array) -> Array:
        """The mean over g points each, (d, p) [-] and (g, n, 3) [m] to (d, n) [log10 unit]."""
        shapes, background = self._columns(vectors)
        turned = (points - self.origin) @ self.frame.T
        out = np.empty((len(shapes), points.shape[1]))
        places = np.ascontiguousarray(turned.transpose(0, 2, 1))
        plumes(shapes, places, fixed(weights), self.kind == PATCH, out)
        out += background[:, None]
        out /= LN10
        return out

    def _columns(self, vectors: Array) -> tuple[Array, Array]:
        """Shapes as the compiled loop takes them, and ln of their background, (d,)."""
        shape = self.centre + self.sd * vectors
        part = dict(zip(SHAPE + EXTRA[self.kind], shape.T, strict=True))
        found = np.zeros((len(shape), COLUMNS))
        background = LN10 * part["log10_background"]
        for column, seat in enumerate(("", "_2") if self.kind == "two plumes" else ("",)):
            over = np.minimum(LN10 * part["log10_source" + seat] - background, MOST_LN)
            rows = (part["along" + seat], part["across" + seat], part["up" + seat], np.exp(over))
            found[:, 4 * column : 4 * column + 4] = np.column_stack(rows)
        turn = part["azimuth"] - self.centre[SHAPE.index("azimuth")]
        rest = [np.cos(turn), np.sin(turn), np.cos(part["dip"]), np.sin(part["dip"])]
        rest += [np.exp(-part["ln_edge"]), np.exp(part["ln_decay"])]
        for size, spread in (("ln_width", "ln_spread_across"), ("ln_height", "ln_spread_up")):
            box = np.exp(part[size])
            start = (EDGE_SHARE * box) ** 2 if self.kind == PATCH else box * box / 12.0
            rest += [start, 2.0 * np.exp(part[spread]), 0.5 * box]
        if self.kind == "bending plume":
            rest += [part["bend"], 2.0 * np.pi / np.exp(part["ln_wave"]), part["phase"]]
        found[:, 8 : 8 + len(rest)] = np.column_stack(rest)
        return found, np.asarray(background)

    def averaged(self, vectors: Array, places: Array, weights: Array) -> Array:
        """log10 of the mean concentration over each interval's Gauss points.

        Parameters
        ----------
        vectors : Array, shape (d, p) [-]
            Shapes in prior units.
        places : Array, shape (n, g, 3) [m]
            Gauss points.
        weights : Array, shape (g,) [-]
            Theirs.

        Returns
        -------
        Array, shape (d, n) [log10 unit]
            What a test of the interval would see.
        """
        return self._along(vectors, places.transpose(1, 0, 2), weights)


@dataclass(frozen=True, eq=False)
class Plume:
    """The mean around one shape: its value there and its slopes in prior units."""

    prior: PlumePrior
    vector: Array

    @property
    def kind(self) -> str:
        """Name of the mean."""
        return self.prior.kind

    @property
    def direction_deg(self) -> tuple[float, float]:
        """Azimuth, clockwise from grid north, and dip of the plume [degrees]."""
        shape = self.prior.centre + self.prior.sd * self.vector
        azimuth, dip = np.degrees(shape[[SHAPE.index("azimuth"), SHAPE.index("dip")]])
        return float(azimuth) % 360.0, float(dip)

    @property
    def source(self) -> Array:
        """Where the first source is assumed, shape (3,) [m]."""
        shape = self.prior.centre + self.prior.sd * self.vector
        return self.prior.origin + shape[:3] @ self.prior.frame

    @cached_property
    def _around(self) -> Array:
        """The shape, and the shape with each number moved, shape (1 + p, p)."""
        return np.vstack([self.vector, self.vector + STEP * np.eye(self.vector.size)])

    def basis(self, xyz: Array) -> Array:
        """Slopes of the log10 plume by each number of the shape, shape (m, p)."""
        return _slopes(self.prior.log10_concentration(self._around, xyz))

    def precision(self, sill: float) -> Array:
        """Ones: the numbers are in prior units, shape (p,)."""
        return np.ones(self.vector.size)

    def over(self, places: Array, weights: Array) -> tuple[Array, Array]:
        """Offset (n,) and slopes (n, p) of the interval averages, linear around the shape."""
        values = self.prior.averaged(self._around, places, weights)
        slopes = _slopes(values)
        return values[0] - slopes @ self.vector, slopes


def _slopes(values: Array) -> Array:
    """Forward differences, shape (1 + p, m) to (m, p)."""
    return np.ascontiguousarray(((values[1:] - values[0]) / STEP).T)
