"""The symbols of the program as data: every figure, layer, raster and page takes its look here."""

from __future__ import annotations

# Areas from the lowest to the topmost: what is closed to drilling is never covered by another.
AREA_ORDER = ("site", "source", "no drilling")


def area_kind(kind: object) -> str:
    """The kind of an area that a drawing knows; "site" for one that is not named."""
    return str(kind) if kind in AREA_ORDER else AREA_ORDER[0]
