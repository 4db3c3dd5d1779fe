"""The GeoPackage of a site: to a Site and back, in place, one transaction per command."""

from __future__ import annotations

from geoprofile.store.changes import Changes, WriteReport
from geoprofile.store.store import Store

__all__ = ["Changes", "Store", "WriteReport"]
