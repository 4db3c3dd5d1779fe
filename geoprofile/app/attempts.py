"""Draws figures one by one: one that cannot be drawn costs neither the others nor the answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from geoprofile.app.outcome import Drawn
from geoprofile.drawing.people import shown_in, shown_of
from geoprofile.errors import BusyError, DiskError, not_drawn
from geoprofile.plugins import Progress, no_progress

if TYPE_CHECKING:
    from geoprofile.site import Site

Draw: TypeAlias = Callable[[], tuple[Path, ...]]
Job: TypeAlias = tuple[str, Draw]


def draw_each(
    site: Site, jobs: Sequence[Job], folder: Path, progress: Progress = no_progress
) -> Drawn:
    """Draw every figure that can be drawn, in the units that people read at this site.

    Raises
    ------
    OSError, DiskError, BusyError
        A full disk or a locked file stops every figure, so it is told as what it is.
    """
    folder.mkdir(parents=True, exist_ok=True)
    units = shown_of(site)
    files: list[Path] = []
    remarks: list[str] = []
    for done, (what, draw) in enumerate(jobs, start=1):
        try:
            with shown_in(units):
                files += draw()
        except (OSError, MemoryError, DiskError, BusyError):
            raise
        except Exception as error:
            remarks.append(not_drawn(what, error))
        progress(done, len(jobs))
    return Drawn(tuple(files), tuple(remarks))
