"""What arguments of commands are, so that a form can offer them and a shell complete them."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Literal

import click
from click.shell_completion import CompletionItem

List = Literal["tables", "boreholes", "quantities", "formats", "settings", "topics"]


def computing(command: click.Command, layers: tuple[str, ...] = ()) -> click.Command:
    """The command, which computes those layers, and what they rest on; all if none is named."""
    command.computes = layers  # type: ignore[attr-defined]
    return command


class Place(click.Path):
    """A path; `what` says of which kind, and `made` whether the command makes it."""

    def __init__(
        self,
        what: Literal["file", "folder", "either"],
        *,
        made: bool = False,
        suffix: str = "",
    ) -> None:
        super().__init__(path_type=Path)
        self.what = what
        self.made = made
        self.suffix = suffix


class Known(click.ParamType):  # type: ignore[type-arg]  # older click has none
    """A text that names something: a row of the site file, or a part of the program.

    `separated` is set where several names may stand in one text, with commas between.
    """

    name = "text"

    def __init__(self, what: List, *, separated: bool = False) -> None:
        self.what: List = what
        self.separated = separated

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The names that go on from what is typed; none where the site file cannot be read."""
        head, comma, begun = incomplete.rpartition(",") if self.separated else ("", "", incomplete)
        with suppress(Exception):  # a shell that completes has nowhere to show a message
            from geoprofile.cli._names import known_names

            site = ctx.params.get("site")
            names = known_names(self.what, Path(site) if site else None)
            return [CompletionItem(head + comma + n) for n in names if n.startswith(begun)]
        return []
