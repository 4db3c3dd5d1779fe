"""Command `section`."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from geoprofile.cli._common import (
    DRY_RUN,
    SITE,
    Speaker,
    overrides,
    show_stale,
    speech_options,
    step_options,
)
from geoprofile.cli._kinds import Known, Place, computing
from geoprofile.cli._lines import made

LAYERS = ("section",)


@partial(computing, layers=LAYERS)
@click.command()
@SITE
@click.option(
    "--figures",
    "folder",
    type=Place("folder", made=True),
    default=Path("sections"),
    show_default=True,
    help="Folder for the figures.",
)
@click.option(
    "--through",
    type=Known("boreholes", separated=True),
    help="Boreholes to draw a section through, separated by commas.",
)
@click.option("--along-flow", is_flag=True, help="Draw a section along the flow.")
@click.option(
    "--quantity",
    "quantities",
    multiple=True,
    type=Known("quantities"),
    help="K, an analyte, or an analyte in soil gas; all if left out.",
)
@DRY_RUN
@step_options
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    folder: Path,
    through: str | None,
    along_flow: bool,
    quantities: tuple[str, ...],
    assignments: tuple[str, ...],
    dry_run: bool,
    again: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Compute and draw vertical sections.

    The section layers of SITE are brought up to date.

    Example: geoprofile section site.gpkg --through 002,005,008 --quantity TCE
    """
    from geoprofile import app

    if dry_run:
        from geoprofile.app.staleness import stale

        show_stale(stale(site, LAYERS, overrides(assignments), again=again), "table")
        return
    speaker = Speaker(quiet=quiet, verbose=verbose)
    done, snapshot = app.derive(
        site,
        LAYERS,
        command="section",
        overrides=overrides(assignments),
        again=again,
        announce=speaker.announce,
    )
    for remark in done.remarks:
        speaker.say(f"note: {remark}")
    speaker.say(f"computed: {', '.join(done.computed) or 'nothing, all is fresh'}")
    names = tuple(n.strip() for n in through.split(",")) if through else ()
    drawn = app.draw_sections(
        snapshot,
        folder,
        boreholes=names,
        quantities=quantities,
        along_flow=along_flow,
        progress=speaker.announce("figures"),
    )
    made(drawn.files)
    for remark in drawn.remarks:
        speaker.say(f"note: {remark}")
    for path in drawn.files:
        click.echo(str(path))
