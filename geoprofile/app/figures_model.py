"""Sheets of how well each model predicts boreholes that it has not seen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.app.attempts import Job, draw_each
from geoprofile.app.figures import drawing, failing, plain_name
from geoprofile.app.outcome import Drawn
from geoprofile.plugins import Progress, no_progress
from geoprofile.plugins.registry import asked_of_all

if TYPE_CHECKING:
    from geoprofile.site import Site


def draw_models(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
    """Draw the cross-validation of every row of the table model.

    Parameters
    ----------
    site : Site
        Tables model and held_out.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    jobs: list[Job] = []
    for name, answer in asked_of_all("model figures", site):
        if isinstance(answer, Exception):
            jobs.append(failing(f"the figures of {name}", answer))
        else:
            jobs += [drawing(what, folder / plain_name(stem), draw) for what, stem, draw in answer]
    return draw_each(site, jobs, folder, progress)
