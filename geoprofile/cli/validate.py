"""Command `validate`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from geoprofile.cli._common import Speaker, speech_options
from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made
from geoprofile.validation.topics import TOPICS


@click.command()
@click.argument("file", type=Place("file", made=True, suffix=".html"))
@click.option("--all", "slow", is_flag=True, help="The slow half, too: calibrations and peers.")
@click.option("--page", type=click.Choice(list(TOPICS)), help="One part of the book alone.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
@speech_options
def COMMAND(  # noqa: N802
    file: Path, slow: bool, page: str | None, overwrite: bool, quiet: bool, verbose: bool
) -> None:
    """Check methods against known answers.

    Computes problems with published or exact answers on this machine and writes FILE, a page of
    HTML, and the same as CSV beside it; half a minute without --all.

    Exit code 1 when a case fails.

    Example: geoprofile validate water.html --page water
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.validate(
        file, slow=slow, topic=page, overwrite=overwrite, progress=speaker.announce("validate")
    )
    for line in done.lines:
        if line.status in ("fail", "not run") or verbose:
            speaker.say(f"{line.case.topic}: {line.case.name}: {line.status} {line.note}".rstrip())
    made(done.files)
    for path in done.files:
        click.echo(path)
    click.echo(done.summary)
    sys.exit(1 if done.has_failed else 0)
