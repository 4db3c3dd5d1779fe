"""Command `conductivity`."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from geoprofile.cli._common import (
    DRY_RUN,
    FORMAT,
    SITE,
    Speaker,
    overrides,
    show_rows,
    show_stale,
    speech_options,
    step_options,
)
from geoprofile.cli._kinds import Place, computing
from geoprofile.cli._lines import made

LAYERS = ("conductivity", "consistency")
COLUMNS = ("interval", "k_m_per_s", "k_low_m_per_s", "k_high_m_per_s", "tests", "grade", "notes")


@partial(computing, layers=LAYERS)
@click.command()
@SITE
@FORMAT
@click.option(
    "--figures",
    "folder",
    type=Place("folder", made=True),
    help="Draw every test with its fits, and a K profile of every borehole, into this folder.",
)
@click.option(
    "--reference-temperature",
    "celsius",
    type=click.FloatRange(0, 40),
    help="Also print K at this water temperature [degC], and the permeability.",
)
@DRY_RUN
@step_options
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    form: str,
    folder: Path | None,
    celsius: float | None,
    assignments: tuple[str, ...],
    dry_run: bool,
    again: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Compute K, with grades, from the tests.

    Repeat tests are combined into one K per interval.

    K is stored at in-situ temperature; another is printed on request only.

    Example: geoprofile conductivity site.gpkg --reference-temperature 20
    """
    from geoprofile import app

    if dry_run:
        from geoprofile.app.staleness import stale

        show_stale(stale(site, LAYERS, overrides(assignments), again=again), form)
        return
    speaker = Speaker(quiet=quiet, verbose=verbose)
    done, snapshot = app.derive(
        site,
        LAYERS,
        command="conductivity",
        overrides=overrides(assignments),
        again=again,
        announce=speaker.announce,
    )
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    speaker.say(f"computed: {', '.join(done.computed) or 'nothing, all is fresh'}")
    if folder is not None:
        drawn = app.draw_tests(snapshot, folder, speaker.announce("figures"))
        made(drawn.files)
        speaker.say(f"{len(drawn.files)} file(s) in {folder}")
        for remark in drawn.remarks:
            speaker.say(f"note: {remark}")
    rows = app.plain_rows(snapshot, "interval_conductivity", COLUMNS)
    if celsius is None:
        show_rows(list(COLUMNS), rows, form)
        return
    names, rows = app.at_temperature(snapshot, celsius)
    show_rows(names, rows, form)
