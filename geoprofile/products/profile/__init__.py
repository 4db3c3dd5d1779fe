"""Profiles of K and concentrations along a borehole."""

LAYERS: tuple[str, ...] = ()
