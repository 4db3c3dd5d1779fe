"""When a command starts, and what it does where another program changes its input meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeVar

from geoprofile.errors import ChangedError

TRIES = 4  # of a command whose input another program changes while it works
Done = TypeVar("Done")


def until_unchanged(once: Callable[[], Done]) -> Done:
    """Do it again while another program changes what it rests on; ChangedError in the end."""
    for _ in range(TRIES - 1):
        try:
            return once()
        except ChangedError:
            continue
    return once()


def now() -> str:
    """The present moment in UTC, ISO 8601."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
