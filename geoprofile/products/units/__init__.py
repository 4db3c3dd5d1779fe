"""Hydrostratigraphic units between boreholes."""

LAYERS: tuple[str, ...] = ("geology",)
OFFERS = {"tables": "tables:TABLES", "looks": "looks:LOOKS"}
