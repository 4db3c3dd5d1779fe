"""Command `validate`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from geoprofile.cli._common import Speaker, speech_options


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--all", "slow", is_flag=True, help="The slow half, too: calibrations and peers.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
@speech_options
def COMMAND(file: Path, slow: bool, overwrite: bool, quiet: bool, verbose: bool) -> None:  # noqa: N802
    """Check methods against known answers.

    Computes problems with published or exact answers on this machine and writes FILE, a page of
    HTML, and the same as CSV beside it.

    Exit code 1 when a case fails.

    Example: geoprofile validate validation.html
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.validate(file, slow=slow, overwrite=overwrite, progress=speaker.announce("validate"))
    for line in done.lines:
        if line.status == "fail" or verbose:
            speaker.say(f"{line.case.topic}: {line.case.name}: {line.status} {line.note}".rstrip())
    for made in done.files:
        click.echo(made)
    click.echo(done.summary)
    sys.exit(1 if done.has_failed else 0)
