"""Hydrostratigraphic units between boreholes."""

LAYERS: tuple[str, ...] = ("geology",)
