"""Command `migrate`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, note


@click.command()
@SITE
def COMMAND(site: Path) -> None:  # noqa: N802
    """Update a SITE file of an older version.

    A safety copy is taken first.

    Input tables, your own columns and drawings stay. What was computed is computed again by the
    next `run`.

    Example: geoprofile migrate site.gpkg
    """
    from geoprofile import app

    copy = app.migrate(site, note)
    if copy is None:
        click.echo(f"{site} is up to date; nothing was changed.")
        return
    click.echo(f"{site} is up to date. Its state before is in {copy}.")
    click.echo("Run 'geoprofile run' on its folder: every layer is computed again.")
