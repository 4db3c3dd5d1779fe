"""Command `plugs`."""

from __future__ import annotations

from typing import Any

import click

from geoprofile.cli._common import FORMAT, show_rows


@click.command()
@click.argument("family", required=False, type=click.Choice(["methods", "layers", "formats"]))
@FORMAT
def COMMAND(family: str | None, form: str) -> None:  # noqa: N802
    """List the test methods, layers and formats there are, with their settings.

    Example: geoprofile plugs layers
    """
    from geoprofile.plugs import FAMILIES
    from geoprofile.registry import plugs

    rows: list[tuple[Any, ...]] = []
    for name in [family] if family else list(FAMILIES):
        for plug in plugs(name).values():
            about = getattr(plug, "summary", None) or plug.title
            rows.append((name, plug.name, None, None, None, about))
            rows += [
                (name, plug.name, s.name, str(s.default), s.unit or None, s.meaning)
                for s in plug.settings
            ]
    show_rows(["family", "name", "setting", "default", "unit", "meaning"], rows, form)
