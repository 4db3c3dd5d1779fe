"""Command `plan`: the field plan of one borehole."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE, Speaker, speech_options
from geoprofile.cli._kinds import Known, Place
from geoprofile.cli._lines import made


@click.command()
@SITE
@click.argument("borehole", required=False, type=Known("boreholes"))
@click.option(
    "--advised",
    type=click.IntRange(min=1),
    multiple=True,
    metavar="RANK",
    help="Plan the proposed test of this rank (table next_test); several of one hole may be given.",
)
@click.option(
    "--advised-borehole",
    type=click.IntRange(min=1),
    metavar="RANK",
    help="Plan the proposed borehole of this rank (table next_borehole); BOREHOLE names it.",
)
@click.option(
    "--purpose",
    type=click.Choice(["hydraulic", "chemistry", "both"]),
    default="both",
    show_default=True,
    help="What the zones are for.",
)
@click.option("--packer", help="Packer to use; the one that covers most when left out.")
@click.option("--spacer", help="Open length to use; the nearest to the zone length if left out.")
@click.option(
    "--zone-length",
    "zone_length_m",
    type=float,
    default=2.0,
    show_default=True,
    help="Length of the zones [m].",
)
@click.option(
    "--overlap",
    type=float,
    default=0.2,
    show_default=True,
    help="Overlap of zones for a hydraulic profile [share].",
)
@click.option(
    "--apart",
    "apart_m",
    type=float,
    default=0.0,
    show_default=True,
    help="Rock left between zones for chemistry [m].",
)
@click.option(
    "--pipes",
    metavar="LENGTHS",
    help="The crew's pipes with units, such as '10 ft, 5 ft, 2 ft': the longest is the usual one, "
    "of the others there is one each; 3 m with short pipes of 0.5, 1 and 1.5 m when left out.",
)
@click.option(
    "--folder",
    type=Place("folder", made=True),
    default=Path(),
    help="Where to write; the present folder when left out.",
)
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
@speech_options
def COMMAND(  # noqa: N802
    site: Path,
    borehole: str | None,
    advised: tuple[int, ...],
    advised_borehole: int | None,
    purpose: str,
    packer: str | None,
    spacer: str | None,
    zone_length_m: float,
    overlap: float,
    apart_m: float,
    pipes: str | None,
    folder: Path,
    overwrite: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Plan the packer work in a BOREHOLE.

    Writes a sheet per set-up, and tables to fill in.

    With --advised or --advised-borehole it plans what 'geoprofile advise' proposes, at its depths
    where the equipment allows; notes say what moved. Numbers go into the tables of the folder,
    'geoprofile load' takes it as it is, and a planned test counts once its readings are there.

    The makers' limits, local codes and licensed practice come before anything on the sheets.

    Example: geoprofile plan site.gpkg 005 --folder plans
    """
    from geoprofile import app

    written, remarks = app.plan(
        site,
        borehole,
        purpose=purpose,
        folder=folder,
        overwrite=overwrite,
        packer=packer,
        spacer=spacer,
        zone_length_m=zone_length_m,
        overlap=overlap,
        apart_m=apart_m,
        advised=advised,
        advised_borehole=advised_borehole,
        pipes=pipes,
    )
    speaker = Speaker(quiet=quiet, verbose=verbose)
    for remark in remarks:
        speaker.say(f"note: {remark}")
    made(written)
    for path in written:
        click.echo(str(path))
