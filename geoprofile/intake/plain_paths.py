"""Vector files under a name that the libraries which read them take.

A folder's name need not be text: an old disk or archive may bring bytes that are no UTF-8. GDAL's
bindings refuse such a path, so the file is read from a copy with a plain name.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from geoprofile.intake.files import COMPANIONS


def is_text(path: Path) -> bool:
    """Whether every byte of the path is text."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


@contextmanager
def plain_path(path: Path) -> Iterator[Path]:
    """The path itself if it is text; else that of a copy, which is gone afterwards."""
    if is_text(path):
        yield path
        return
    with tempfile.TemporaryDirectory(prefix="geoprofile-") as folder:
        stem = path.stem if is_text(Path(path.stem)) else "shapes"
        for part in (path, *_companions(path)):
            shutil.copyfile(part, Path(folder) / f"{stem}{part.suffix}")
        yield Path(folder) / f"{stem}{path.suffix}"


def _companions(path: Path) -> list[Path]:
    """The other files of a shapefile."""
    if path.suffix.casefold() != ".shp":
        return []
    named = [path.with_suffix(s) for suffix in COMPANIONS for s in (suffix, suffix.upper())]
    return [p for p in named if p.is_file()]
