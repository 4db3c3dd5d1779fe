"""Command `field`: a copy for a tablet, and the way back."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, speech_options
from geoprofile.cli._kinds import Known, Place
from geoprofile.cli._lines import made


@click.group()
def COMMAND() -> None:  # noqa: N802
    """Take a copy to the field, bring it back.

    Edits of different columns of a row are merged; a column that two hands have changed is a
    finding with both values. Any number of copies may be out at once.

    Example: geoprofile field out site.gpkg 005
    """


@COMMAND.command()
@SITE
@click.argument("boreholes", nargs=-1, required=True, type=Known("boreholes"))
@click.option(
    "--folder",
    type=Place("folder", made=True),
    default=Path("field"),
    show_default=True,
    help="Where to write.",
)
@speech_options
def out(site: Path, boreholes: tuple[str, ...], folder: Path, quiet: bool, verbose: bool) -> None:
    """Write a field copy of BOREHOLES.

    A small GeoPackage with forms and a project for the GIS of a tablet, a folder for photos, and a
    page with entry boxes and photos that any browser opens without a network. The page keeps
    nothing itself: save each zone when it is done.

    Example: geoprofile field out site.gpkg 005 --folder for_the_tablet
    """
    from geoprofile.fieldcopy.taking import take_out

    taken = take_out(site, boreholes, folder)
    made(taken.files)
    Speaker(quiet=quiet, verbose=verbose).say(f"field copy {taken.mark}")
    for path in taken.files:
        click.echo(path)


@COMMAND.command("in")
@SITE
@click.argument("files", nargs=-1, required=True, type=Place("file"))
@speech_options
def in_(site: Path, files: tuple[Path, ...], quiet: bool, verbose: bool) -> None:
    """Bring field copies back into SITE.

    FILES are GeoPackages of field copies, and what the page has saved; all are brought in, or none.
    Photos in the folder beside a GeoPackage, and those of the page, come into the site's folder.
    The same file may come again, in any order. What two hands have changed is told, with both
    values; the stored one stays until you decide.

    Example: geoprofile field in site.gpkg for_the_tablet/field_1-0a1b2c3d.gpkg
    """
    from geoprofile.fieldcopy.copies import bring_back

    speaker = Speaker(quiet=quiet, verbose=verbose)
    done = bring_back(site, files)
    for table, rows in done.changed.items():
        click.echo(f"{table}: {rows} row(s)")
    if not done.changed:
        speaker.say("No row was changed.")
    for words in done.open_cells:
        speaker.say(f"note: {words}")
