"""Makes the commands that compute some layers and print a table of what came out."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoprofile.cli._common import (
    DRY_RUN,
    FORMAT,
    SITE,
    Speaker,
    at_work,
    overrides,
    show_rows,
    show_stale,
    speech_options,
    step_options,
    workers_option,
)
from geoprofile.cli._kinds import Place, computing
from geoprofile.cli._lines import made

if TYPE_CHECKING:
    from geoprofile.site import Site


def step_command(
    name: str,
    text: str,
    *,
    targets: tuple[str, ...],
    table: str,
    columns: tuple[str, ...],
    draw: str = "",
    many_cells: bool = False,
    remarks: Callable[[Site], Iterable[str]] = lambda site: (),
    in_words: Callable[[Site], Iterable[str]] | None = None,
) -> click.Command:
    """A command that computes `targets` where they are stale and prints `columns` of `table`.

    `draw` names the workflow function that draws its figures when the user asks for them;
    `many_cells` offers worker processes; `remarks` gives what else there is to say of the site;
    `in_words` gives the lines that a person reads in the place of the table.
    """

    @click.command(name, help=f"{text}\n\nExample: geoprofile {name} site.gpkg")
    @SITE
    @FORMAT
    @click.option(
        "--figures",
        "folder",
        type=Place("folder", made=True),
        hidden=not draw,
        help="Draw its figures into this folder.",
    )
    @DRY_RUN
    @workers_option(hidden=not many_cells)
    @step_options
    @speech_options
    def command(
        site: Path,
        form: str,
        folder: Path | None,
        dry_run: bool,
        workers: int | None,
        assignments: tuple[str, ...],
        again: bool,
        quiet: bool,
        verbose: bool,
    ) -> None:
        from geoprofile import app

        if dry_run:
            from geoprofile.app.staleness import stale

            show_stale(stale(site, targets, overrides(assignments), again=again), form)
            return
        speaker = Speaker(quiet=quiet, verbose=verbose)
        with at_work(workers):
            done, snapshot = app.derive(
                site,
                targets,
                command=name,
                overrides=overrides(assignments),
                again=again,
                announce=speaker.announce,
            )
        for remark in done.remarks:
            speaker.say(f"note: {remark}")
        speaker.say(f"computed: {', '.join(done.computed) or 'nothing, all is fresh'}")
        if folder is not None and draw:
            drawn = getattr(app, draw)(snapshot, folder, progress=speaker.announce("figures"))
            made(drawn.files)
            speaker.say(f"{len(drawn.files)} file(s) in {folder}")
            for remark in drawn.remarks:
                speaker.say(f"note: {remark}")
        for remark in remarks(snapshot):
            speaker.say(remark)
        if in_words is not None and form == "table":
            for line in in_words(snapshot):
                click.echo(line)
            return
        rows = app.plain_rows(snapshot, table, columns)
        names = list(columns)
        if form != "json":
            names, rows = app.as_read(snapshot, names, rows)
        show_rows(names, rows, form)

    return computing(command, targets)
