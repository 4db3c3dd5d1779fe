"""Command `describe`."""

from __future__ import annotations

import json

import click


@click.command()
@click.argument("command", nargs=-1)
@click.option(
    "--format",
    "form",
    type=click.Choice(["table", "json"]),
    default="table",
    show_default=True,
    help="How to print; json holds all that a form needs.",
)
def COMMAND(command: tuple[str, ...], form: str) -> None:  # noqa: N802
    """Describe the commands to other programs.

    Options with kinds, units, limits and lists, which argument is a file that must exist or is
    made, the tables that come out, and all settings: read from what is installed. COMMAND limits
    it to one.

    Example: geoprofile describe --format json
    """
    from geoprofile.cli import cli
    from geoprofile.cli._common import show_rows
    from geoprofile.cli._describing import description

    told = description(cli)
    if command:
        told["commands"] = [c for c in told["commands"] if tuple(c["words"]) == command]
        if not told["commands"]:
            raise click.UsageError(f"There is no command '{' '.join(command)}'.")
    if form == "json":
        click.echo(json.dumps(told, indent=1))
        return
    rows = [
        (" ".join(c["words"]), o["flag"] or o["name"].upper(), o["kind"], o["unit"], o["help"])
        for c in told["commands"]
        for o in c["options"]
    ]
    show_rows(["command", "option", "kind", "unit", "meaning"], rows, "table")
