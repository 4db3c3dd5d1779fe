"""Command `plugin`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made


@click.command()
@click.argument("folder", type=Place("folder", made=True))
@click.option("--zip", "is_zip", is_flag=True, help="Write a zip for the GIS's plugin manager.")
@click.option("--author", default="", help="Who publishes it.")
@click.option("--email", default="", help="Address of the publisher.")
@click.option("--homepage", default="", help="Page that tells of it.")
@click.option("--repository", default="", help="Where its source is kept.")
@click.option("--tracker", default="", help="Where faults are reported.")
@click.option("--overwrite", is_flag=True, help="Replace a plugin that is there.")
def COMMAND(  # noqa: N802
    folder: Path,
    is_zip: bool,
    author: str,
    email: str,
    homepage: str,
    repository: str,
    tracker: str,
    overwrite: bool,
) -> None:
    """Write the GIS plugin into FOLDER.

    It starts this installed program, makes its forms from `geoprofile describe`, and is written
    again after an update. FOLDER is where the GIS keeps its plugins: in QGIS 3, `python/plugins`
    of the user profile. A public repository of plugins asks for author, email and addresses, too.

    Example: geoprofile plugin plugins
    """
    from geoprofile.cli import cli
    from geoprofile.cli._describing import description
    from geoprofile.gisplugin import NAME, Publisher, write_folder, write_zip

    publisher = Publisher(author, email, homepage, repository, tracker)
    told = description(cli)
    if is_zip:
        folder.mkdir(parents=True, exist_ok=True)
        place = write_zip(folder / f"{NAME}.zip", told, publisher, overwrite=overwrite)
        made((place,))
        if publisher.missing:
            missing = ", ".join(f"--{name}" for name in publisher.missing)
            click.echo(f"note: to publish it, add {missing}", err=True)
    else:
        written = write_folder(folder, told, publisher, overwrite=overwrite)
        made(written)
        place = written[0].parent
    click.echo(place)
