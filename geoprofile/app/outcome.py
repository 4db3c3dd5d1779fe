"""What a command did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoprofile.plugins import no_progress


@dataclass(frozen=True)
class Outcome:
    """What a command did: rows stored, layers computed, files written, words for the user.

    `remarks` are what the user should know of the site file itself, such as an interrupted write.
    """

    database: Path
    loaded: Mapping[str, int]
    computed: tuple[str, ...] = ()
    files: tuple[Path, ...] = ()
    summary: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    unchanged: bool = False


def silent(name: str) -> Any:
    """Announce nothing."""
    return no_progress


@dataclass(frozen=True)
class Drawn:
    """The figure files written, and a line for each figure that could not be drawn."""

    files: tuple[Path, ...] = ()
    remarks: tuple[str, ...] = ()
