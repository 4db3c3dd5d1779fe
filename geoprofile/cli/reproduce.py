"""Command `reproduce`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import Speaker, speech_options
from geoprofile.cli._kinds import Place


@click.command()
@click.argument("review", type=Place("folder"))
@speech_options
def COMMAND(review: Path, quiet: bool, verbose: bool) -> None:  # noqa: N802
    """Recompute a hand-over and compare it.

    The tables of its REVIEW folder are compared byte for byte.

    Exit 1 when a table differs.

    Example: geoprofile reproduce for_the_client/review
    """
    from geoprofile.handover import compute_tables, reproduce

    speaker = Speaker(quiet=quiet, verbose=verbose)
    reproduce(review, lambda folder: compute_tables(folder, speaker.announce))
    click.echo("Every table came out alike, byte for byte.")
