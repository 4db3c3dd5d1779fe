"""Command `report`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE


@click.command()
@SITE
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--pdf", is_flag=True, help="Print it to a PDF beside it, too; takes a browser.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
def COMMAND(site: Path, file: Path, pdf: bool, overwrite: bool) -> None:  # noqa: N802
    """Write the report of SITE to FILE.

    It is one page that any browser opens, without a network.

    Example: geoprofile report site.gpkg report.html
    """
    from geoprofile import app
    from geoprofile.report.saving import write_both, write_report

    if pdf:
        for made in write_both(app.read(site), file, overwrite=overwrite):
            click.echo(made)
    else:
        click.echo(write_report(app.read(site), file, overwrite=overwrite))
