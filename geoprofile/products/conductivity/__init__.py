"""K of each test and each interval."""

LAYERS: tuple[str, ...] = ("conductivity", "consistency")
OFFERS = {"looks": "looks:LOOKS"}
