"""Hydrostratigraphic units between boreholes."""

LAYERS: tuple[str, ...] = ("geology",)
OFFERS = {"looks": "looks:LOOKS"}
