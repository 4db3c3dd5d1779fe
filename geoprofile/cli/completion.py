"""Command `completion`."""

from __future__ import annotations

import click

VARIABLE = "_GEOPROFILE_COMPLETE"


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def COMMAND(shell: str) -> None:  # noqa: N802
    """Print the completion script for SHELL.

    Add them to the shell's start file, or load them for one session.

    Example: geoprofile completion bash
    """
    from click.shell_completion import get_completion_class

    from geoprofile.cli import cli

    maker = get_completion_class(shell)
    if maker is None:
        raise click.UsageError(f"No completion for {shell}.")
    click.echo(maker(cli, {}, "geoprofile", VARIABLE).source())
