"""Command `check`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from geoprofile.cli._common import FORMAT, SITE, note, show_rows


@click.command()
@SITE
@FORMAT
@click.option("--repair", is_flag=True, help="Repair what can be repaired, after a safety copy.")
def COMMAND(site: Path, form: str, repair: bool) -> None:  # noqa: N802
    """Check SITE for corruption, suggest fixes.

    Exit code 0 means sound, 5 damaged.

    Example: geoprofile check site.gpkg
    """
    from geoprofile import app

    found = app.check(site, repair=repair, tell=note)
    if found or form != "table":
        show_rows(["code", "severity", "place", "what", "what_to_do"], found, form)
    else:
        click.echo(f"{site}: sound.")
    sys.exit(5 if any(row[1] == "error" for row in found) else 0)
