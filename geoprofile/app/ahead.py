"""Sheets drawn by workers while the layers that they show are being stored.

They lie aside, each under the digest of what it shows, until the run draws its figures: then those
that show the same take their places. Of layers that could not be stored no sheet is left.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.drawing.redrawn import drawing_aside, drawn_ahead
from geoprofile.whole import private_folder
from geoprofile.workers import begin, has_workers

if TYPE_CHECKING:
    from geoprofile.site import Site

ENOUGH = "enough"  # a file that says so to the workers


@dataclass
class Ahead:
    """Sheets of a run that are drawn before their turn.

    `folder` is that of its figures; `workers_gone` is left when the workers have ended, and with it
    goes the folder `aside`, made where there is somebody to draw. `stop` ends it.
    """

    folder: Path
    workers_gone: ExitStack
    aside: Path | None = None
    stop: Callable[[], None] = field(default=lambda: None)

    def begin(self, site: Site) -> None:
        """Have workers that are free draw sheets of a site whose layers are about to be stored."""
        self.stop()  # an earlier try, whose layers were not stored
        aside = self._place() if has_workers() else None
        if aside is None:
            return
        enough = aside / ENOUGH
        enough.unlink(missing_ok=True)
        begun = begin(draw_share, (site, self.folder, aside))

        def stop() -> None:
            begun()
            with suppress(OSError):  # of a full disk others tell; the workers end with the run
                enough.touch()

        self.stop = stop

    def _place(self) -> Path | None:
        """The folder aside; a disk that refuses one says so to what must be written."""
        if self.aside is None:
            with suppress(OSError):
                place = private_folder(self.folder.parent)
                self.aside = self.workers_gone.enter_context(place)
        return self.aside

    def used(self) -> AbstractContextManager[None]:
        """Inside, sheets that were drawn ahead take their places instead of being drawn."""
        self.stop()
        return drawn_ahead(self.aside)


def draw_share(common: tuple[Site, Path, Path], share: tuple[int, int]) -> None:
    """Draw some of the large sheets aside, the last ones first: the run begins with the first.

    Parameters
    ----------
    common : tuple of Site, Path and Path
        The site, the folder of its figures, and the folder aside.
    share : tuple of int [-]
        Number of the worker, and how many there are.
    """
    from geoprofile.app.figures import large_sheets
    from geoprofile.drawing.people import shown_in, shown_of

    site, folder, aside = common
    number, count = share
    with drawing_aside(aside), shown_in(shown_of(site)):
        for _, draw in large_sheets(site, folder)[::-1][number::count]:
            if (aside / ENOUGH).exists():
                return
            with suppress(Exception):  # the run tells why, when it draws that sheet
                draw()
