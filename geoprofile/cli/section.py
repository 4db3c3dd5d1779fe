"""Command `section`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, overrides, speech_options, step_options


@click.command()
@SITE
@click.option(
    "--figures",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("sections"),
    show_default=True,
    help="Folder for the figures.",
)
@click.option("--through", help="Boreholes to draw a section through, separated by commas.")
@click.option("--along-flow", is_flag=True, help="Draw a section along the flow.")
@click.option("--quantity", "quantities", multiple=True, help="K or an analyte; all if left out.")
@step_options
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    folder: Path,
    through: str | None,
    along_flow: bool,
    quantities: tuple[str, ...],
    assignments: tuple[str, ...],
    again: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Compute and draw vertical sections.

    The section layers of SITE are brought up to date.

    Example: geoprofile section site.gpkg --through 002,005,008 --quantity TCE
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done, snapshot = app.derive(
        site,
        ("section",),
        command="section",
        overrides=overrides(assignments),
        again=again,
        announce=speaker.announce,
    )
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
    for remark in drawn.remarks:
        speaker.say(f"note: {remark}")
    for path in drawn.files:
        click.echo(str(path))
