"""Figures of where mass passes the sections."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.app.attempts import Job, draw_each
from geoprofile.app.figures import plain_name
from geoprofile.app.outcome import Drawn
from geoprofile.plugins import Progress, no_progress
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def draw_discharge(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
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
    Drawn
        Files written, and what could not be drawn.
    """
    from geoprofile.products.discharge.figure import discharge_figure

    def job(section: str, analyte: str) -> Job:
        stem = folder / f"discharge_{plain_name(section)}_{plain_name(analyte)}"
        return (
            f"the discharge of {analyte} through {section}",
            lambda: discharge_figure(site, section, analyte, stem),
        )

    rows = records_of(site.table("discharge"))
    return draw_each(site, [job(r["section"], r["analyte"]) for r in rows], folder, progress)
