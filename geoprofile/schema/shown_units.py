"""What the table [units] of site.toml may say: the units that people read. The store stays SI."""

from __future__ import annotations

from collections.abc import Mapping

SYSTEM = "system"
PAPER = "paper"
# key -> what may be chosen, the metric one first, the US customary one second
UNIT_CHOICES: Mapping[str, tuple[str, ...]] = {
    "length": ("m", "ft"),
    "diameter": ("mm", "in"),
    "pressure": ("kPa", "psi", "bar"),
    "volume": ("L", "US gal"),
    "flow_rate": ("L/min", "US gal/min"),
    "area": ("m2", "ft2"),
    "ground_volume": ("m3", "ft3"),
    "conductivity": ("m/s", "m/s", "cm/s", "m/d", "ft/d"),
}
SHOWN_SETTINGS: Mapping[str, tuple[str, ...]] = {
    SYSTEM: ("metric", "us"),
    PAPER: ("A4", "US Letter"),
    **UNIT_CHOICES,
}
