"""What site.toml may say under [document]."""

from __future__ import annotations

# the title block of a sheet, in its order
TITLE_KEYS = (
    "project",
    "site",
    "client",
    "author",
    "checked_by",
    "date",
    "revision",
    "status",
)
# what goes with the data when they are handed over
TERMS_KEYS = ("organisation", "contact", "terms_of_use", "limitation")
DOCUMENT_KEYS = TITLE_KEYS + TERMS_KEYS
