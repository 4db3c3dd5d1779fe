"""Concentration of each interval."""

LAYERS: tuple[str, ...] = ("concentration", "sampling_quality")
OFFERS = {"limits": "filled:in_words"}
