"""Files to checked tables: settings, file names, parsing, checks, merging with the database.

Importing this package loads no pandas; the functions that need it do so when they are called.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from geoprofile.intake.files import find_files
from geoprofile.intake.settings import old_settings, read_settings
from geoprofile.intake.sources import Intake, Merge, SiteSettings, SourceFile
from geoprofile.intake.templates import write_templates
from geoprofile.intake.unread import unread

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.plugins import Progress

__all__ = [
    "Intake",
    "Merge",
    "SiteSettings",
    "SourceFile",
    "find_files",
    "fingerprint_rows",
    "in_metres",
    "merge",
    "old_settings",
    "read_files",
    "read_settings",
    "unread",
    "write_templates",
]


def read_files(
    files: Sequence[SourceFile],
    settings: SiteSettings,
    known: Mapping[str, pd.DataFrame],
    progress: Progress | None = None,
) -> Intake:
    """Checked tables from source files; see `geoprofile.intake.read.read_files`."""
    from geoprofile.intake import read

    return read.read_files(files, settings, known, progress)


def in_metres(settings: SiteSettings) -> SiteSettings:
    """Settings with a CRS in feet replaced; see `geoprofile.intake.feet.in_metres`."""
    from geoprofile.intake import feet

    return feet.in_metres(settings)


def fingerprint_rows(frame: pd.DataFrame, table: str, extra: Sequence[str] = ()) -> pd.Series[Any]:
    """SHA-256 per row or batch; see `geoprofile.intake.row_fingerprints.fingerprint_rows`."""
    from geoprofile.intake import row_fingerprints

    return row_fingerprints.fingerprint_rows(frame, table, extra)


def merge(
    incoming: Mapping[str, pd.DataFrame],
    current: Mapping[str, pd.DataFrame],
    loaded: pd.DataFrame,
    files: Mapping[str, str] | None = None,
    *,
    prefer: str | None = None,
    prune: bool = False,
    lost_files: Iterable[str] = (),
) -> Merge:
    """What loading changes; see `geoprofile.intake.merging.merge`."""
    from geoprofile.intake import merging

    return merging.merge(
        incoming, current, loaded, files, prefer=prefer, prune=prune, lost_files=lost_files
    )
