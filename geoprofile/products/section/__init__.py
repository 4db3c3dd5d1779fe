"""Vertical sections."""

LAYERS: tuple[str, ...] = ("section",)
OFFERS = {"tables": "tables:TABLES", "looks": "looks:LOOKS"}
