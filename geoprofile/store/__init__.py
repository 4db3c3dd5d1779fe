"""The GeoPackage of a site: to a Site and back, in place, one transaction per command."""

from __future__ import annotations

from geoprofile.store.changes import Changes, WriteReport
from geoprofile.store.findings import Finding
from geoprofile.store.inspection import edits, inspect
from geoprofile.store.marks import Marks, until_unchanged
from geoprofile.store.migrations import migrate
from geoprofile.store.repairing import repair
from geoprofile.store.restoring import restore
from geoprofile.store.safety_copies import SafetyCopy, copies_of, needed, safety_copy
from geoprofile.store.store import Store, put_in_place

__all__ = [
    "Changes",
    "Finding",
    "Marks",
    "SafetyCopy",
    "Store",
    "WriteReport",
    "copies_of",
    "edits",
    "inspect",
    "migrate",
    "needed",
    "put_in_place",
    "repair",
    "restore",
    "safety_copy",
    "until_unchanged",
]
