"""Hydrostratigraphic units between boreholes."""

LAYERS: tuple[str, ...] = ("geology",)
OFFERS = {"tables": "tables:TABLES", "legend": "tables:LEGEND", "looks": "looks:LOOKS"}
