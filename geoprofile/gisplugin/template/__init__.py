"""Borehole tests to K, plume maps and advice: an empty shell around the installed program."""

from __future__ import annotations

from typing import Any


def classFactory(iface: Any) -> Any:  # noqa: N802  the name that the GIS calls
    """Make the plugin."""
    from .plugin import Plugin

    return Plugin(iface)
