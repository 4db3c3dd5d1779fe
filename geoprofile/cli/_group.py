"""A group of commands that imports a command's file only when it is needed."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
from pathlib import Path

import click


def _progress(*, hidden: bool) -> click.Option:
    """The option by which another program asks for lines that it can read."""
    return click.Option(
        ["--progress"],
        type=click.Choice(["bar", "json"]),
        default="bar",
        expose_value=False,
        hidden=hidden,
        help="How to tell progress and results; json: an object a line, on stderr.",
    )


class CommandGroup(click.Group):
    """Finds commands as files beside this one; the file's name is the command's name."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands, in alphabetical order."""
        folder = str(Path(__file__).parent)
        names = (m.name for m in pkgutil.iter_modules([folder]))
        return sorted(n.rstrip("_") for n in names if not n.startswith("_"))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None."""
        if cmd_name not in self.list_commands(ctx):
            return None
        module = importlib.import_module(f"geoprofile.cli.{cmd_name}")
        command: click.Command = module.COMMAND
        if not any(p.name == "progress" for p in command.params):
            command.params.append(_progress(hidden=not hasattr(command, "computes")))
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with a suggestion for a name that does not exist."""
        name = args[0] if args else ""
        if not name.startswith("-") and name not in self.list_commands(ctx):
            near = difflib.get_close_matches(name, self.list_commands(ctx), n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise click.UsageError(f"There is no command '{name}'.{hint} See `geoprofile --help`.")
        return super().resolve_command(ctx, args)
