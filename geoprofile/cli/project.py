"""Command `project`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, speech_options
from geoprofile.cli._lines import made


@click.command()
@SITE
@click.option("--overwrite", is_flag=True, help="Replace one changed in the GIS; it is kept too.")
@speech_options
def COMMAND(site: Path, overwrite: bool, quiet: bool, verbose: bool) -> None:  # noqa: N802
    """Compose the GIS project of SITE.

    It has groups in the order of the work, forms, themes and pages to print; every run brings it up
    to date. What you changed and saved in the GIS is never written over unless you ask for it.

    Example: geoprofile project site.gpkg
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.compose(site, overwrite=overwrite)
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    for written in done.summary:
        speaker.say(f"written: {written}")
    if done.unchanged:
        speaker.say("The project is up to date; nothing was written.")
    made(done.files)
    click.echo(done.files[0])
