"""Vertical sections."""

LAYERS: tuple[str, ...] = ("section",)
OFFERS = {"looks": "looks:LOOKS"}
