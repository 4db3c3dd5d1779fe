"""Vertical sections."""

LAYERS: tuple[str, ...] = ("section",)
OFFERS = {"tables": "tables:TABLES", "legend": "tables:LEGEND", "looks": "looks:LOOKS"}
