"""Command `compare`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import FORMAT, SITE, show_rows


@click.command()
@SITE
@click.argument("before", required=False)
@click.argument("after", required=False)
@FORMAT
def COMMAND(  # noqa: N802
    site: Path, before: str | None, after: str | None, form: str
) -> None:
    """Compare figures of two runs of SITE.

    Each is the number of a run (`geoprofile show SITE runs` lists them) or another site file, such
    as a safety copy. AFTER is the present state when left out; without both, the last two runs
    that computed something are compared. K, fields, flow, plumes, discharge and advice are told.

    Example: geoprofile compare site.gpkg demo_site/site.gpkg
    """
    from geoprofile import app

    found = app.compare(site, before, after)
    if form == "table":
        click.echo(f"From {found.before} to {found.after}:")
        for line in found.words:
            click.echo(line)
        click.echo()
    if found.rows or form != "table":
        show_rows(["figure", "item", "before", "after", "change"], list(found.rows), form)
