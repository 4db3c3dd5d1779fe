"""Command `inspect`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import show_rows
from geoprofile.cli._kinds import Place


@click.command()
@click.argument("file", type=Place("file"))
@click.option(
    "--table", default="", help="The table it fills, such as results; guessed if not said."
)
@click.option("--sheet", default="", help="The sheet of a workbook; the one that fits best.")
@click.option(
    "--rows", default=5, show_default=True, type=click.IntRange(1, 100), help="Rows shown."
)
@click.option(
    "--gallon", type=click.Choice(["US", "imperial"]), default=None, help="Which gallon gal means."
)
@click.option(
    "--write", type=Place("file", made=True, suffix=".toml"), help="Write the profile to this file."
)
@click.option("--overwrite", is_flag=True, help="Replace a profile file that is there.")
def COMMAND(  # noqa: N802  every command file has this name
    file: Path,
    table: str,
    sheet: str,
    rows: int,
    gallon: str | None,
    write: Path | None,
    overwrite: bool,
) -> None:
    """Look at a FILE, propose an intake profile.

    Tells encoding, delimiter, header, columns, marks and dates as far as the file shows them, what
    is left to decide, and how the first rows would be read. Nothing is stored.

    Example: geoprofile inspect demo_site/samples.csv
    """
    from geoprofile import app

    seen = app.inspect_file(
        file,
        table=table,
        sheet=sheet,
        rows=rows,
        gallon=gallon or "",
        write=write,
        overwrite=overwrite,
    )
    click.echo(seen.text)
    for problem in seen.problems:
        click.echo(f"not yet readable: {problem}", err=True)
    if seen.rows:
        click.echo(f"\nThe first rows as {seen.table}, in our units:")
        show_rows(list(seen.columns), list(seen.rows), "table")
    for line in seen.advice:
        click.echo(line, err=True)
