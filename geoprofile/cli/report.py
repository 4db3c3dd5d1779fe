"""Command `report`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import SITE
from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made


@click.command()
@SITE
@click.argument("file", type=Place("file", made=True, suffix=".html"))
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
        written = tuple(write_both(app.read(site), file, overwrite=overwrite))
    else:
        written = (write_report(app.read(site), file, overwrite=overwrite),)
    made(written)
    for path in written:
        click.echo(path)
