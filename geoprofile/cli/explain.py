"""Command `explain`."""

from __future__ import annotations

import click


@click.command()
@click.argument("topic")
def COMMAND(topic: str) -> None:  # noqa: N802
    """Explain a table, column, method or format.

    TOPIC is a table, TABLE.COLUMN, method, layer or format.

    Units, allowed values, equations and their sources.

    Example: geoprofile explain conductivity.k_m_per_s
    """
    from geoprofile.reference.explain import explain

    click.echo(explain(topic))
