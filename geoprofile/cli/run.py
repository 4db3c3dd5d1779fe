"""Command `run`: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import (
    DRY_RUN,
    Speaker,
    overrides,
    show_stale,
    speech_options,
    step_options,
)
from geoprofile.cli._kinds import Place, computing
from geoprofile.cli._lines import made


@computing
@click.command()
@DRY_RUN
@click.argument("folder", type=Place("folder"))
@click.option(
    "--prefer",
    type=click.Choice(["files", "database"]),
    help="On conflict keep the files or the database; `files` discards edits made in the GIS "
    "(a safety copy is taken).",
)
@click.option("--prune", is_flag=True, help="Delete rows that vanished from the files.")
@click.option(
    "--workers",
    type=click.IntRange(min=0),
    help="Processes that take a share of the work; as many as a large site gains by when left out.",
)
@step_options
@speech_options
def COMMAND(  # noqa: N802  every command file has this name
    folder: Path,
    dry_run: bool,
    prefer: str | None,
    prune: bool,
    workers: int | None,
    assignments: tuple[str, ...],
    again: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Load, compute and draw the site in FOLDER.

    Only what changed is loaded, and only what is stale is computed.

    FOLDER holds site.toml and the input tables. The result is one GeoPackage beside them, and
    figures in the folder `out`.

    Example: geoprofile run demo_site
    """
    from geoprofile import app

    if dry_run:
        _tell_stale(folder, overrides(assignments), again)
        return
    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = app.run(
        folder,
        overrides=overrides(assignments),
        prefer=prefer,
        prune=prune,
        again=again,
        workers=workers,
        announce=speaker.announce,
        tell_left=speaker.left if speaker.shows_left else None,
    )
    made((*done.files, done.database))
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    if done.unchanged:
        speaker.say("Nothing has changed since the last run; nothing was computed.")
    elif verbose:
        for table, rows in done.loaded.items():
            speaker.say(f"loaded {rows} row(s) of {table}")
        speaker.say(f"computed: {', '.join(done.computed) or 'nothing, all is fresh'}")
    for line in () if quiet else done.summary:
        click.echo(line)
    speaker.say(f"Database: {done.database}")


def _tell_stale(folder: Path, chosen: dict[str, str], again: bool) -> None:
    """The files that would be loaded, the layers that would be computed, and for how long."""
    from geoprofile.app.durations import text_of
    from geoprofile.app.staleness import expected_of_folder, stale_of_folder

    layers, files = stale_of_folder(folder, chosen, again=again)
    if files:
        click.echo(f"to be loaded: {', '.join(files)}", err=True)
    show_stale(layers)
    expected = expected_of_folder(folder, layers, files, again=again)
    if expected:
        click.echo(f"A run will take {text_of(sum(expected.values()))}.", err=True)
