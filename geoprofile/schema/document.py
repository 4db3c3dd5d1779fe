"""What site.toml may say under [document]."""

from __future__ import annotations

DOCUMENT_KEYS = (
    "project",
    "site",
    "client",
    "author",
    "checked_by",
    "date",
    "revision",
    "status",
)
