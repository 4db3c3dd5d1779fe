"""The hydraulic gradient that a section takes: the site's, or one from the heads near it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.budget import afford_draws
from geoprofile.engine import settings_used
from geoprofile.products.discharge.mass_flux import share_across
from geoprofile.products.heads.flow import FLAT_TRIANGLE, head_plane, recent_mean_heads

if TYPE_CHECKING:
    from geoprofile.geometry import SectionPlane
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
LEAST_HOLES = 5  # three make a plane; the others show how far heads lie off it
REACH_SHARE = 0.25  # of the extent of the boreholes with heads [-]


@dataclass(frozen=True)
class Gradient:
    """A horizontal gradient: `slope` and its sd [-], `azimuth_deg` of flow and its sd [deg].

    `origin` says in words which heads it comes from.
    """

    slope: float
    slope_sd: float
    azimuth_deg: float
    azimuth_sd_deg: float
    origin: str

    def drawn_across(self, azimuth: Array, *, realisations: int, rng: np.random.Generator) -> Array:
        """Gradients at right angles to lines, drawn from the spread.

        Parameters
        ----------
        azimuth : Array, shape (n,) [deg]
            Directions of the lines.
        realisations : int [-]
            How many.
        rng : Generator
            Source of randomness.

        Returns
        -------
        Array, shape (realisations, n) [-]
            Positive where the flow crosses from the left.
        """
        afford_draws(len(azimuth), realisations)
        slope = self.slope + self.slope_sd * rng.standard_normal((realisations, 1))
        way = self.azimuth_deg + self.azimuth_sd_deg * rng.standard_normal((realisations, 1))
        return np.asarray(np.maximum(slope, 0.0) * share_across(azimuth, way))


def site_gradient(site: Site) -> Gradient:
    """The one gradient of the site."""
    row = site.table("flow").iloc[0]
    slope, turn = (float(np.nan_to_num(float(row[c]))) for c in ("gradient_sd", "azimuth_sd_deg"))
    words = f"one gradient from the heads of {row['boreholes']} boreholes"
    return Gradient(float(row["gradient"]), slope, float(row["azimuth_deg"]), turn, words)


def gradient_of(site: Site, plane: SectionPlane, settings: Mapping[str, Any]) -> Gradient:
    """The gradient for a section: from the heads near it if wanted and enough, else the site's.

    Parameters
    ----------
    site : Site
        Tables flow, with a row, and head.
    plane : SectionPlane
        Where it lies [m].
    settings : Mapping
        `gradient`: site or local; `reach_m` [m].

    Returns
    -------
    Gradient
        With its origin in words.
    """
    whole = site_gradient(site)
    if settings["gradient"] == "site":
        return whole
    near = _heads_near(site, plane, float(settings["reach_m"]))
    if len(near[0]) < LEAST_HOLES:
        words = f"heads of only {len(near[0])} boreholes near the section: {whole.origin}"
        return Gradient(**{**vars(whole), "origin": words})
    found = head_plane(*near)
    if found.roundness < FLAT_TRIANGLE or found.gradient == 0.0:
        words = f"boreholes near the section lie nearly on one line: {whole.origin}"
        return Gradient(**{**vars(whole), "origin": words})
    words = f"gradient from the heads of {len(near[0])} boreholes near the section"
    return Gradient(
        found.gradient, found.gradient_sd, found.azimuth_deg, found.azimuth_sd_deg, words
    )


def _heads_near(site: Site, plane: SectionPlane, reach_m: float) -> tuple[Array, Array]:
    """Places (n, 2) [m] and mean heads (n,) [m] of the boreholes within reach of the line."""
    table = site.table("head")
    if table.empty:
        return np.empty((0, 2)), np.empty(0)
    means = recent_mean_heads(table, float(settings_used(site, "flow")["days"]))
    xy = means[["x", "y"]].to_numpy(dtype=np.float64)
    reach = reach_m or REACH_SHARE * float(np.hypot(*np.ptp(xy, axis=0)))
    along, _, aside = plane.to_section(means[["x", "y", "z"]].to_numpy(dtype=np.float64))
    past = np.maximum(np.maximum(-along, along - plane.length_m), 0.0)
    near = np.hypot(past, aside) <= reach
    return xy[near], means["head"].to_numpy(dtype=np.float64)[near]
