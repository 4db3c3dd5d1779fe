"""Command `show`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._common import FORMAT, SITE, show_rows
from geoprofile.cli._kinds import Known


@click.command()
@SITE
@click.argument("table", required=False, type=Known("tables"))
@FORMAT
@click.option("--columns", help="Columns to print, separated by commas; all when left out.")
def COMMAND(  # noqa: N802
    site: Path, table: str | None, form: str, columns: str | None
) -> None:
    """Print a TABLE of SITE, or its runs.

    Without TABLE it lists the tables. `runs` lists what was done to it, when and with which
    settings; `quantities` what was measured. Tables and CSV are in the units of [units] in
    site.toml, which the names end in; JSON is as stored.

    Example: geoprofile show site.gpkg borehole
    """
    wanted = [c.strip() for c in columns.split(",")] if columns else None
    if table == "runs" or "geometry" in (wanted or ()):
        from geoprofile import app

        names, rows = app.show(site, table, wanted, for_people=form != "json")
    else:
        from geoprofile.store import Store
        from geoprofile.store.listing import listing

        store = Store.open(site)
        names, rows = listing(store, table, wanted)
        said = store.settings().get("units") if form != "json" and table else None
        if said:  # else nothing but the standard library is loaded
            from geoprofile.drawing.people import in_units, shown_by

            names, rows = in_units(names, rows, shown_by(said))
    show_rows(names, rows, form)
