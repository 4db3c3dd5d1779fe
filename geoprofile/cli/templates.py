"""Command `templates`."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
def COMMAND(folder: Path, overwrite: bool) -> None:  # noqa: N802
    """Write blank input tables into FOLDER.

    One CSV for every input table, each column explained.

    Example: geoprofile templates blank_tables
    """
    from geoprofile import intake

    for path in intake.write_templates(folder, overwrite=overwrite):
        click.echo(str(path))
