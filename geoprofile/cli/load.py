"""Command `load`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, speech_options


@click.command()
@SITE
@click.argument("sources", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option(
    "--prefer",
    type=click.Choice(["files", "database"]),
    help="Which side wins where they differ: files undo what was edited in the GIS, too.",
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
    """Load SOURCES, a site folder or single tables, into SITE: all of them or none.

    Example: geoprofile load site.gpkg demo_site
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.load(site, sources, prefer=prefer, prune=prune, announce=speaker.announce)
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    if not done.loaded:
        speaker.say("Nothing new in the files; nothing was changed.")
    for table, rows in done.loaded.items():
        speaker.say(f"{table}: {rows} row(s)")
