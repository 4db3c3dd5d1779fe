"""Command `handover`."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import click

from geoprofile.cli._common import (
    SITE,
    Speaker,
    at_work,
    overrides,
    speech_options,
    workers_option,
)
from geoprofile.cli._kinds import Known, Place
from geoprofile.cli._lines import made


@click.command()
@SITE
@click.argument("folder", type=Place("folder", made=True))
@click.option(
    "--formats",
    type=Known("formats", separated=True),
    default="geopackage,csv",
    show_default=True,
    help="Formats, separated by commas; `geoprofile plugins formats` lists them.",
)
@click.option("--strict", is_flag=True, help="Treat any loss as an error.")
@click.option(
    "--review", is_flag=True, help="Add the inputs and all it takes to compute the tables again."
)
@click.option("--overwrite", is_flag=True, help="Replace an older hand-over of that name.")
@click.option(
    "--set",
    "assignments",
    multiple=True,
    metavar="FORMAT.SETTING=VALUE",
    help="Change a setting of a format for this time.",
)
@workers_option()
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    folder: Path,
    formats: str,
    strict: bool,
    review: bool,
    overwrite: bool,
    assignments: tuple[str, ...],
    workers: int | None,
    quiet: bool,
    verbose: bool,
) -> None:
    """Pack SITE into FOLDER for GIS staff.

    The package holds layers, report, words, losses and checksums.

    What `[handover] private = ["table", "table.column"]` in site.toml names stays at home.

    Example: geoprofile handover site.gpkg for_the_client
    """
    from geoprofile import app
    from geoprofile.handover import hand_over

    speaker = Speaker(quiet=quiet, verbose=verbose)
    with at_work(workers):
        done = hand_over(
            app.read(site),
            folder,
            formats=[f.strip() for f in formats.split(",") if f.strip()],
            overrides=overrides(assignments),
            strict=strict,
            review=review,
            overwrite=overwrite,
            progress=speaker.announce("handover"),
        )
    for name, losses in done.losses.items():
        if losses:
            counts = Counter(loss.kind for loss in losses)
            told = ", ".join(f"{count} {kind}" for kind, count in counts.most_common())
            speaker.say(f"{name}: {told}; in full in {name}/losses.txt")
    if done.held_back:
        speaker.say(f"kept back as private: {', '.join(done.held_back)}")
    if done.still_showing:
        speaker.say(
            f"computed from what is private, and not kept back: {', '.join(done.still_showing)}"
        )
    for file in done.files if verbose else ():
        speaker.say(file)
    made((done.folder,))
    click.echo(f"{done.folder}: {len(done.files)} files; README.txt says what they are")
