"""A filter pack that drains beside the riser where the water level lies within it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geoprofile.hydraulics.situation import crosses_water_table
from geoprofile.hydraulics.tests import HydraulicTest, Part

POROSITY_SD = 0.05  # [-] of a drainable porosity that was told; common practice, no source
MIDDLE, WIDEST = 0.20, 0.40  # [-] porosity where none was told: from none to that


@dataclass(frozen=True)
class Pack:
    """Radius of the surface that moves [m], its part in the budget and the words for it.

    `level_share` [-] of H0 is left when the pack has taken its share of the water.
    """

    surface_radius_m: float
    told: bool
    part: Part
    words: str
    level_share: float = 1.0

    def applied_to(self, test: HydraulicTest) -> HydraulicTest:
        """The test with riser and pack as one moving surface."""
        sd = test.riser_radius_sd_m
        if sd is None and test.riser_radius_m:
            sd = 0.01 * test.riser_radius_m**2 / self.surface_radius_m
        return replace(
            test,
            riser_radius_m=self.surface_radius_m,
            riser_radius_sd_m=sd,
            tube_radii_m=(),
            pack_radius_m=test.pack_radius_m or test.hole_radius_m,
        )


def draining_pack(test: HydraulicTest) -> Pack | None:
    """The pack that drains with the riser, if the water level lies within it.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths, radii [m] and the porosity of the pack [-] where it was told.

    Returns
    -------
    Pack [-]
        None where the level stays above the zone, or the hole itself is the moving surface.

    Notes
    -----
    rc_eff^2 = (1 - n) rc^2 + n rw^2. A screen of which no pack and no porosity were told takes 0 to
    0.40: K is spread over both, and the test is never accepted.

    References
    ----------
    Bouwer (1989), Ground Water 27(3), 304-309, from memory.
    """
    riser = test.effective_riser_radius_m
    if not crosses_water_table(test) or riser is None or test.isolation == "open hole":
        return None
    wall = test.pack_radius_m or test.hole_radius_m
    told = test.pack_porosity is not None
    n = test.pack_porosity if test.pack_porosity is not None else MIDDLE
    area = (1.0 - n) * riser**2 + n * wall**2
    slope = (wall**2 - riser**2) / area
    radius = math.sqrt(area)
    if told:
        words = f"the pack drains with the riser: moving surface of {1e3 * radius:.0f} mm radius"
        part = Part("porosity of the pack", n, "1", POROSITY_SD, "normal", slope)
        return Pack(radius, True, part, words, min(riser**2 / area, 1.0))
    widest = (1.0 - WIDEST) * riser**2 + WIDEST * wall**2
    middle = math.sqrt(widest) * riser  # between a pack that does not drain and one that does most
    half = 0.5 * math.log(widest / riser**2)
    part = Part(
        "porosity of the pack",
        MIDDLE,
        "1",
        WIDEST / math.sqrt(12.0),
        "uniform",
        half / WIDEST * 2.0,
    )
    words = (
        "the water level lies within the screen and the pack drains with the riser, but its "
        "porosity is not told: give a filter pack with its diameter and porosity in construction"
    )
    return Pack(math.sqrt(middle), False, part, words)
