"""Command `plugins`."""

from __future__ import annotations

from typing import Any

import click

from geoprofile.cli._common import FORMAT, show_rows


@click.command()
@click.argument("family", required=False, type=click.Choice(["methods", "layers", "formats"]))
@FORMAT
def COMMAND(family: str | None, form: str) -> None:  # noqa: N802
    """List methods, layers, formats, settings.

    Example: geoprofile plugins layers
    """
    from geoprofile.plugins import FAMILIES
    from geoprofile.plugins.registry import plugins

    rows: list[tuple[Any, ...]] = []
    for name in [family] if family else list(FAMILIES):
        for plugin in plugins(name).values():
            about = getattr(plugin, "summary", None) or plugin.title
            rows.append((name, plugin.name, None, None, None, about))
            rows += [
                (name, plugin.name, s.name, str(s.default), s.unit or None, s.meaning)
                for s in plugin.settings
            ]
    show_rows(["family", "name", "setting", "default", "unit", "meaning"], rows, form)
