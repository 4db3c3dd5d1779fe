"""Concentration of each interval."""

LAYERS: tuple[str, ...] = ("concentration",)
OFFERS = {"limits": "filled:in_words"}
