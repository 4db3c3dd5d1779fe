"""Mass discharge through sections."""

LAYERS: tuple[str, ...] = ("discharge",)
