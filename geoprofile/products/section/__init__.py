"""Vertical sections."""

LAYERS: tuple[str, ...] = ("section",)
