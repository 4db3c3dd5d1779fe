"""The commands, their options, settings and tables as data, for programs that make forms."""

from __future__ import annotations

import re
import sys
import sysconfig
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from geoprofile import __version__
from geoprofile.cli._kinds import Known, Place
from geoprofile.plugins import Setting
from geoprofile.schema import SCHEMA_VERSION, TABLES

FORM = 1  # of the description itself: raised when a reader of an older one would go wrong
UNIT = re.compile(r"\[([^\]]+)\]\.?$")
NOT_OFFERED = ("help", "progress")


def description(root: click.Group) -> dict[str, Any]:
    """All that a form needs to know, as plain values."""
    from geoprofile.plugins.registry import plugins

    families = {name: plugins(name) for name in ("layers", "formats", "methods")}
    return {
        "program": "geoprofile",
        "version": __version__,
        "description": FORM,
        "table_layout": SCHEMA_VERSION,
        "python": sys.executable,
        "watch": _watched(),
        "commands": [one(words, command) for words, command in commands(root)],
        "settings": {
            family: [
                {
                    "name": m.name,
                    "summary": getattr(m, "summary", None) or m.title,
                    "settings": [_setting(s) for s in m.settings],
                }
                for m in members.values()
            ]
            for family, members in families.items()
        },
        "tables": [
            {"name": t.name, "title": t.title, "owner": t.owner, "geometry": t.geometry}
            for t in TABLES.values()
        ],
    }


def _watched() -> list[tuple[str, int]]:
    """Folders that change when the program or a package beside it does, and when they last did."""
    folders = {sysconfig.get_path("purelib"), str(Path(__file__).parent)}
    return [(f, Path(f).stat().st_mtime_ns) for f in sorted(folders)]


def commands(
    group: click.Group, before: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with the words that start it, those of groups inside the group too."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*before, name))
        elif command is not None and not command.hidden:
            yield (*before, name), command


def one(words: tuple[str, ...], command: click.Command) -> dict[str, Any]:
    """A command: its words, what it says of itself, its options, the tables that it computes."""
    text, _, example = " ".join((command.help or "").split()).partition("Example: geoprofile ")
    return {
        "words": list(words),
        "summary": (command.help or "").strip().split("\n\n")[0].replace("\n", " "),
        "help": text.strip(),
        "example": example.strip(),
        "tables": _tables_of(getattr(command, "computes", None)),
        "options": [
            option(p)
            for p in command.params
            if p.name not in NOT_OFFERED and not getattr(p, "hidden", False)
        ],
    }


def option(parameter: click.Parameter) -> dict[str, Any]:
    """An option or argument: its kind, limits, list, unit and default."""
    help_text = getattr(parameter, "help", None) or ""
    unit = UNIT.search(help_text)
    return {
        "name": parameter.name,
        "flag": max(parameter.opts, key=len) if isinstance(parameter, click.Option) else None,
        "required": parameter.required,
        "several": parameter.multiple or parameter.nargs == -1,
        "default": _plain(parameter.default),
        "unit": unit.group(1) if unit else "",
        "help": help_text,
        "shape": parameter.metavar or "",
        **kind_of(parameter),
    }


def _plain(default: Any) -> Any:
    """A default as JSON has it; None where there is none."""
    if isinstance(default, Path):
        return str(default)
    return default if isinstance(default, (bool, int, float, str)) else None


def kind_of(parameter: click.Parameter) -> dict[str, Any]:
    """What may be entered."""
    kind = parameter.type
    if getattr(parameter, "is_flag", False):
        return {"kind": "yes or no"}
    if isinstance(kind, Place):
        return {"kind": kind.what, "is_made": kind.made, "suffix": kind.suffix}
    if isinstance(kind, Known):
        return {"kind": "text", "names": kind.what, "separated": kind.separated}
    if isinstance(kind, click.Choice):
        return {"kind": "choice", "choices": [str(c) for c in kind.choices]}
    if isinstance(kind, (click.IntRange, click.FloatRange)):
        whole = isinstance(kind, click.IntRange)
        return {
            "kind": "whole number" if whole else "number",
            "low": kind.min,
            "high": kind.max,
        }
    if kind is click.INT:
        return {"kind": "whole number"}
    return {"kind": "number" if kind is click.FLOAT else "text"}


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "name": setting.name,
        "default": setting.default,
        "unit": setting.unit,
        "meaning": setting.meaning,
        "allowed": list(setting.allowed),
        "low": setting.low,
        "high": setting.high,
    }


def _tables_of(layers: tuple[str, ...] | None) -> list[str]:
    """The tables of the layers that a command computes, those they rest on too; () for all."""
    if layers is None:
        return []
    from geoprofile import engine
    from geoprofile.plugins.registry import plugins

    ordered = engine.in_order(plugins("layers"))
    wanted = engine.needed(ordered, layers or None)
    return [table for layer in ordered if layer.name in wanted for table in layer.writes]
