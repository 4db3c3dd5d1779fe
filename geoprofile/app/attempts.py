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
Numbered: TypeAlias = Callable[[tuple["Site", Path], int], tuple[Path, ...]]


def draw_each(
    site: Site,
    jobs: Sequence[Job],
    folder: Path,
    progress: Progress = no_progress,
    numbered: Numbered | None = None,
) -> Drawn:
    """Draw every figure that can be drawn, in the units that people read at this site.

    Parameters
    ----------
    site : Site
        With its derived tables.
    jobs : sequence of Job
        What is drawn, and how.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.
    numbered : callable, optional
        Draws, in a worker too, the job of a number of this site into this folder.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.

    Raises
    ------
    OSError, DiskError, BusyError
        A full disk or a locked file stops every figure, so it is told as what it is.
    """
    from geoprofile.workers import each  # not for a run that has nothing to do

    folder.mkdir(parents=True, exist_ok=True)
    units = shown_of(site)
    files: list[Path] = []
    remarks: list[str] = []

    def draw_here(number: int) -> tuple[Path, ...] | str:
        what, draw = jobs[number]
        try:
            with shown_in(units):
                return tuple(draw())
        except (OSError, MemoryError, DiskError, BusyError):
            raise
        except Exception as error:
            return not_drawn(what, error)

    numbers = range(len(jobs))
    drawn = (
        map(draw_here, numbers)
        if numbered is None
        else each(numbered, (site, folder), numbers, here=draw_here)
    )
    for done, found in enumerate(drawn, start=1):
        if isinstance(found, str):
            remarks.append(found)
        else:
            files += found
        progress(done, len(jobs))
    return Drawn(tuple(files), tuple(remarks))
