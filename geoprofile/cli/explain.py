"""Command `explain`."""

from __future__ import annotations

from pathlib import Path

import click

from geoprofile.cli._kinds import Known


@click.command()
@click.argument("topic", nargs=-1, required=True, type=Known("topics"))
def COMMAND(topic: tuple[str, ...]) -> None:  # noqa: N802
    """Explain a name, or the K of one test.

    TOPIC is a table, TABLE.COLUMN, method, layer or format.

    Units, allowed values, equations and their sources. With SITE test NAME: why the K of that test
    is what it is, and the budget of its uncertainty.

    Example: geoprofile explain conductivity.k_m_per_s
    """
    if len(topic) == 1:
        from geoprofile.reference.explain import explain

        click.echo(explain(topic[0]))
        return
    if len(topic) != 3 or topic[1] != "test":
        raise click.UsageError(
            "Give one TOPIC, or SITE test NAME, as in: explain site.gpkg test T1"
        )
    from geoprofile import app
    from geoprofile.report.test_budget import test_budget

    click.echo(test_budget(app.read(Path(topic[0])), topic[2]))
