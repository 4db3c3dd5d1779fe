"""Command `show`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import FORMAT, SITE, show_rows


@click.command()
@SITE
@click.argument("table")
@FORMAT
@click.option("--columns", help="Columns to print, separated by commas; all when left out.")
def COMMAND(  # noqa: N802
    site: Path, table: str, form: str, columns: str | None
) -> None:
    """Print a TABLE of SITE, or its runs.

    `runs` lists what was done to it, when and with which settings. Tables and CSV are in the
    units of [units] in site.toml, which the names end in; JSON is as stored.

    Example: geoprofile show site.gpkg borehole
    """
    from geoprofile import app

    wanted = [c.strip() for c in columns.split(",")] if columns else None
    names, rows = app.show(site, table, wanted, for_people=form != "json")
    show_rows(names, rows, form)
