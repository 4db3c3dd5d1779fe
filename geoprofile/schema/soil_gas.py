"""Soil gas as a medium: what samples, criteria and units call it."""

from __future__ import annotations

SOIL_GAS = "soil gas"  # the medium, as samples and criteria name it
IN_GAS = f" in {SOIL_GAS}"  # behind the name of a substance: a quantity of its own
GAS_UNIT = "ug/m3"
PER_UG_PER_L = 1000.0  # [ug/m3] that make one ug/L
NEAR_M = 1.0  # [m] intervals that reach so near to the depth of a map are shown with their values
CAUTION = (
    "Interpolated from soil gas alone. It tells nothing of the air in a building or a trench: "
    "enter none on its account; local codes and licensed practice come first."
)
