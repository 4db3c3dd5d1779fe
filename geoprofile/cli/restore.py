"""Command `restore`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import FORMAT, SITE, note, show_rows
from geoprofile.cli._kinds import Place


@click.command()
@SITE
@click.argument("copy", type=Place("file", suffix=".gpkg"), required=False)
@FORMAT
def COMMAND(site: Path, copy: Path | None, form: str) -> None:  # noqa: N802
    """List safety copies of SITE, or restore one.

    The list says when and for what each copy was taken, and where its rows differ from the present
    ones. The present state is kept as a safety copy first; nothing is ever deleted.

    Example: geoprofile restore site.gpkg
    """
    from geoprofile import app

    if copy is None:
        rows = app.safety_copies(site)
        show_rows(["copy", "taken_at", "taken_for", "differs"], list(rows), form)
        return
    kept = app.restore(site, copy, note)
    click.echo(f"{site} is as it was in {copy.name}.")
    if kept is not None:
        click.echo(f"Its state before is in {kept}.")
    click.echo("Run 'geoprofile run' on its folder: files that changed since are loaded again.")
