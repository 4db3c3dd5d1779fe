"""Command `create`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import note
from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made


@click.command()
@click.argument("site", type=Place("file", made=True, suffix=".gpkg"))
@click.option("--crs", required=True, help="Projected CRS of the site, such as EPSG:32632.")
@click.option("--name", default="", help="Name of the site.")
@click.option("--vertical-datum", default="", help="Vertical datum of all elevations, in words.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there.")
def COMMAND(  # noqa: N802
    site: Path, crs: str, name: str, vertical_datum: str, overwrite: bool
) -> None:
    """Make a new, empty site file.

    Example: geoprofile create new.gpkg --crs EPSG:32628
    """
    from geoprofile import app

    done = app.create(site, crs=crs, name=name, vertical_datum=vertical_datum, overwrite=overwrite)
    for remark in done.remarks:
        note(remark)
    made((site,))
    click.echo(f"Made {site}.", err=True)
