"""Concentration of each interval."""

LAYERS: tuple[str, ...] = ("concentration", "sampling_quality")
OFFERS = {"looks": "looks:LOOKS", "limits": "filled:in_words"}
