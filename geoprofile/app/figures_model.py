"""Sheets of how well each model predicts boreholes that it has not seen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.app.attempts import Job, draw_each
from geoprofile.app.figures import for_people, plain_name
from geoprofile.app.outcome import Drawn
from geoprofile.plugins import Progress, no_progress
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


@for_people
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
    from geoprofile.products.model.figure_held_out import held_out_figure

    def job(quantity: str, round_name: str | None) -> Job:
        stem = folder / plain_name(" ".join(filter(None, ("held out", quantity, round_name))))
        return (
            f"the cross-validation of {quantity}",
            lambda: held_out_figure(site, quantity, round_name, stem),
        )

    rows = records_of(site.table("model"))
    return draw_each([job(r["quantity"], r["round"]) for r in rows], folder, progress)
