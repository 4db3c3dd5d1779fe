"""Figures of where mass passes the sections."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.app.figures import plain_name
from geoprofile.plugins import Progress, no_progress
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def draw_discharge(site: Site, folder: Path, progress: Progress = no_progress) -> tuple[Path, ...]:
    """Draw every row of the table discharge.

    Parameters
    ----------
    site : Site
        Tables discharge, discharge_cell and section_line.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    tuple of Path
        Files written.
    """
    from geoprofile.products.discharge.figure import discharge_figure

    folder.mkdir(parents=True, exist_ok=True)
    rows = records_of(site.table("discharge"))
    written: list[Path] = []
    for done, row in enumerate(rows, start=1):
        name = f"discharge_{plain_name(row['section'])}_{plain_name(row['analyte'])}"
        written += discharge_figure(site, row["section"], row["analyte"], folder / name)
        progress(done, len(rows))
    return tuple(written)
