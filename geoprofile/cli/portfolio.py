"""Command `portfolio`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from geoprofile.cli._common import Speaker, speech_options
from geoprofile.cli._kinds import Place
from geoprofile.cli._lines import made

SHOWN = 10
SCHEMA = "geoprofile"


@click.command()
@click.argument("folder", type=Place("folder"))
@click.option("--workers", type=int, help="Sites at a time; all processors when left out.")
@click.option("--scheduler", metavar="ADDRESS", help="Dask scheduler that runs the sites instead.")
@click.option(
    "--budget", type=click.FloatRange(min=0), help="For next tests at all sites, in their prices."
)
@click.option(
    "--to", "address", metavar="ADDRESS", help="PostGIS database that gets the tables as well."
)
@click.option(
    "--schema", default=SCHEMA, show_default=True, help="Schema of that database to be used."
)
@speech_options
def COMMAND(  # noqa: N802
    folder: Path,
    workers: int | None,
    scheduler: str | None,
    budget: float | None,
    address: str | None,
    schema: str,
    quiet: bool,
    verbose: bool,
) -> None:
    """Run all sites in FOLDER and gather them.

    Sites are folders with site.toml, and site files alone, anywhere in FOLDER. Only what changed is
    run, each site in a process of its own; one that fails stops no other, and its reason is told.

    The folder `portfolio` gets a GeoPackage with a point per site and the next tests of all sites,
    a page of the sites by urgency, and a GeoParquet dataset of the computed tables.

    With --to postgresql://user@host/database the same tables are put into a PostGIS database, all
    in one transaction; earlier ones of a portfolio are replaced, tables of others never. Nothing is
    read back. Keep the password in PGPASSWORD or ~/.pgpass, not in the address.

    Exit code 1 means that a site failed.

    Example: geoprofile portfolio .
    """
    from geoprofile import app

    speaker = Speaker(quiet=quiet, verbose=verbose)
    if address is not None:
        from geoprofile.portfolio import refuse_unusable

        refuse_unusable(address)
    done = app.portfolio(
        folder, workers=workers, scheduler=scheduler, budget=budget, announce=speaker.announce
    )
    if done.unchanged:
        speaker.say("Nothing has changed since the last time; nothing was computed.")
    elif verbose:
        speaker.say(f"run: {', '.join(done.computed) or 'none, all are fresh'}")
    for one in () if quiet else done.sites[:SHOWN]:
        said = one["reason"] if one["state"] == "failed" else one["worst_finding"]
        click.echo(f"{one['urgency']}. {one['site']} ({one['state']}): {said or 'no finding'}")
    if not quiet and len(done.sites) > SHOWN:
        click.echo(f"... and {len(done.sites) - SHOWN} more in {done.folder / 'portfolio.html'}")
    if not quiet and done.tests:
        best = done.tests[0]
        click.echo(
            f"Best next test of all sites: {best['site']}, {best['borehole']}, "
            f"{best['top_m']:.1f} to {best['bottom_m']:.1f} m"
        )
        if budget is not None:
            from geoprofile.portfolio import paid_for

            click.echo(paid_for(done.tests, budget))
        click.echo(
            "Caution: interpolated from a few boreholes at each site. Decisions on health, "
            "drilling or pressure need local codes, the makers' limits and a licensed professional."
        )
    made((done.folder,))
    if address is not None:
        names = app.push_portfolio(done, address, schema)
        speaker.say(f"Database: {len(names)} tables in schema {schema}")
    speaker.say(f"Portfolio: {done.folder}")
    sys.exit(1 if done.failed else 0)
