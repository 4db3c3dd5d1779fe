"""Command `templates`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made


@click.command()
@click.argument("folder", type=Place("folder", made=True))
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
def COMMAND(folder: Path, overwrite: bool) -> None:  # noqa: N802
    """Write blank input tables into FOLDER.

    One CSV for every input table, each column explained.

    Example: geoprofile templates blank_tables
    """
    from geoprofile import intake

    written = tuple(intake.write_templates(folder, overwrite=overwrite))
    made(written)
    for path in written:
        click.echo(str(path))
