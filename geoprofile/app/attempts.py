"""Draws figures one by one: one that cannot be drawn costs neither the others nor the answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
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
# Site, folder of the figures, and where sheets drawn ahead lie
Common: TypeAlias = tuple["Site", Path, Path | None]
Numbered: TypeAlias = Callable[[Common, int], tuple[Path, ...]]


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
    # not for a run that has nothing to do
    from geoprofile.drawing.redrawn import ahead_now
    from geoprofile.workers import each, has_workers

    folder.mkdir(parents=True, exist_ok=True)
    units = shown_of(site)
    files: list[Path] = []
    remarks: list[str] = []

    def draw_here(number: int) -> tuple[Path, ...]:
        what, draw = jobs[number]
        with _telling(what, remarks), shown_in(units):
            return tuple(draw())
        return ()  # it is told why

    if numbered is not None and has_workers():
        numbers = range(len(jobs))
        drawn = each(numbered, (site, folder, ahead_now()), numbers, here=draw_here)
        for done, found in enumerate(drawn, start=1):
            files += found
            progress(done, len(jobs))
        return Drawn(tuple(files), tuple(remarks))
    for done, (what, draw) in enumerate(jobs, start=1):
        with _telling(what, remarks), shown_in(units):
            files += draw()
        progress(done, len(jobs))
    return Drawn(tuple(files), tuple(remarks))


@contextmanager
def _telling(what: str, remarks: list[str]) -> Iterator[None]:
    """A figure that cannot be drawn is a remark; what stops every figure stops them."""
    try:
        yield
    except (OSError, MemoryError, DiskError, BusyError):
        raise
    except Exception as error:
        remarks.append(not_drawn(what, error))
