"""When a command starts."""

from __future__ import annotations

from datetime import UTC, datetime


def now() -> str:
    """The present moment in UTC, ISO 8601."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
