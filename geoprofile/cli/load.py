"""Command `load`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, speech_options
from geoprofile.cli._kinds import Place


@click.command()
@SITE
@click.argument("sources", type=Place("either"), nargs=-1, required=True)
@click.option(
    "--prefer",
    type=click.Choice(["files", "database"]),
    help="On conflict keep the files or the database; `files` discards edits made in the GIS "
    "(a safety copy is taken).",
)
@click.option("--prune", is_flag=True, help="Delete rows that vanished from the files.")
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    sources: tuple[Path, ...],
    prefer: str | None,
    prune: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Load SOURCES into SITE: all or none.

    SOURCES are a site folder, or single tables.

    Example: geoprofile load site.gpkg demo_site
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.load(site, sources, prefer=prefer, prune=prune, announce=speaker.announce)
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    if not done.loaded:
        what = "No row was changed." if done.remarks else "Nothing new in the files."
        speaker.say(what)
    for table, rows in done.loaded.items():
        speaker.say(f"{table}: {rows} row(s)")
