"""Mass discharge through sections."""

LAYERS: tuple[str, ...] = ("discharge",)
OFFERS = {"looks": "looks:LOOKS"}
