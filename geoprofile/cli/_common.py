"""Options and printing that commands share."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING, Any, TypeVar

import click

from geoprofile.cli._kinds import Known, Place
from geoprofile.cli._lines import lines

if TYPE_CHECKING:
    from geoprofile.plugins import Progress

F = TypeVar("F", bound=Callable[..., Any])
SITE = click.argument("site", type=Place("file", suffix=".gpkg"))
VISIBLE_AFTER_S = 1.0
WIDTH = 24
PLACES = ("x", "y", "x_m", "y_m", "longitude_deg", "latitude_deg")  # columns that keep all digits


def speech_options(function: F) -> F:
    """Add --quiet and --verbose."""
    for option in (
        click.option("-q", "--quiet", is_flag=True, help="Suppress all output except errors."),
        click.option("-v", "--verbose", is_flag=True, help="Verbose output."),
    ):
        function = option(function)
    return function


def _allow_large(_: click.Context, __: click.Parameter, is_meant: bool) -> None:
    if is_meant:
        from geoprofile.budget import allow_large_work

        allow_large_work()


def step_options(function: F) -> F:
    """Add --set and --again."""
    for option in (
        click.option(
            "--set",
            "assignments",
            multiple=True,
            type=Known("settings"),
            metavar="LAYER.SETTING=VALUE",
            help="Override a setting for this run; `geoprofile plugins` lists them.",
        ),
        click.option("--again", is_flag=True, help="Recompute everything, even if up to date."),
        click.option(
            "--yes-large",
            is_flag=True,
            expose_value=False,
            callback=_allow_large,
            help="Do work a hundred times as large as is usual.",
        ),
    ):
        function = option(function)
    return function


def workers_option(*, hidden: bool = False) -> Callable[[F], F]:
    """Add --workers, for commands that predict many cells."""
    return click.option(
        "--workers",
        type=click.IntRange(min=1),
        hidden=hidden,
        help="Number of worker processes (default: threads in this process).",
    )


def at_work(workers: int | None) -> AbstractContextManager[object]:
    """Worker processes for everything inside, if there are to be any."""
    if workers is None:
        return nullcontext()
    from geoprofile.kriging import processes

    return processes(workers)


def overrides(assignments: Iterable[str]) -> dict[str, str]:
    """The --set options as a mapping."""
    found = {}
    for text in assignments:
        name, equals, value = text.partition("=")
        if not equals:
            raise click.UsageError(f"--set {text}: expected LAYER.SETTING=VALUE.")
        found[name.strip()] = value.strip()
    return found


class Speaker:
    """Remarks and progress on stderr; a bar only on a terminal and only for what takes a while."""

    def __init__(self, *, quiet: bool = False, verbose: bool = False) -> None:
        """Choose how much to say."""
        self.quiet = quiet
        self.verbose = verbose
        self.bar = sys.stderr.isatty() and not quiet
        self.left_s: float | None = None  # of the whole command

    @property
    def shows_left(self) -> bool:
        """Whether anybody would see how much time is left."""
        return self.bar or lines() is not None

    def left(self, seconds: float) -> None:
        """Take note of the time left [s]."""
        self.left_s = seconds

    def say(self, text: str) -> None:
        """A remark, unless quiet."""
        _said.append(text)
        if self.quiet:
            return
        told = lines()
        if told is not None:
            told.say(remark=text)
        else:
            click.echo(text, err=True)

    def announce(self, name: str) -> Progress:
        """A progress for a step: a bar after a second, and its name when verbose."""
        told = lines()
        if told is not None:
            told.progress(name, 0, 1)
            return lambda done, total: told.progress(name, done, total, left_s=self.left_s)
        if self.verbose and not self.quiet:
            click.echo(f"{name} ...", err=True)
        begun = time.monotonic()

        def report(done: int, total: int) -> None:
            if self.bar and time.monotonic() - begun > VISIBLE_AFTER_S:
                self._draw(name, done, total)

        return report

    def _draw(self, name: str, done: int, total: int) -> None:
        filled = WIDTH * done // max(total, 1)
        bar = "=" * filled + " " * (WIDTH - filled)
        end = "\n" if done >= total else ""
        left = ""
        if self.left_s is not None:
            from geoprofile.app.durations import text_of

            left = f", {text_of(self.left_s)} left"
        click.echo(f"\r{name:<14} [{bar}] {done}/{total}{left:<22}{end}", nl=False, err=True)


_said: list[str] = []


def note(remark: str) -> None:
    """Something that the user should know, on stderr."""
    Speaker().say(f"note: {remark}")


def note_settled() -> None:
    """Tell what was undone or moved aside beside a file, where the command has not said so."""
    opening = sys.modules.get("geoprofile.store.opening")
    for remark in dict.fromkeys(opening.take_settled() if opening else ()):
        if not any(remark in text for text in _said):
            note(remark)
    _said.clear()


def show_rows(columns: list[str], rows: list[tuple[Any, ...]], form: str) -> None:
    """Rows on stdout as an aligned table, as CSV or as JSON."""
    if form == "json":
        import json

        click.echo(json.dumps([dict(zip(columns, r, strict=True)) for r in rows], indent=1))
    elif form == "csv":
        import csv

        from geoprofile.formats.csv import guarded

        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([["" if v is None else guarded(v) for v in row] for row in rows])
    else:
        _show_table(
            columns, [[_cell(v, c) for v, c in zip(row, columns, strict=True)] for row in rows]
        )


def _cell(value: Any, column: str) -> str:
    """A value as a person reads it: a place and what was entered as it is, else four digits."""
    if value is None:
        return "-"
    if not isinstance(value, float):
        return str(value)
    if column in PLACES:
        return f"{value:.9g}"
    entered = float(f"{value:.6g}")
    shown = entered if math.isclose(entered, value, rel_tol=1e-9) else float(f"{value:.4g}")
    return f"{shown:.9g}" if abs(shown) >= 1e4 else f"{shown:.6g}"


def _show_table(columns: list[str], rows: list[list[str]]) -> None:
    widths = [min(60, max([len(c), *(len(r[i]) for r in rows)])) for i, c in enumerate(columns)]
    for row in (columns, *rows):
        cells = [v[:60].ljust(w) for v, w in zip(row[:-1], widths[:-1], strict=True)]
        click.echo("  ".join([*cells, *row[-1:]]).rstrip())


def show_stale(rows: list[tuple[str, str, str]], form: str = "table") -> None:
    """What would be computed, and why."""
    from geoprofile.app.staleness import COLUMNS

    if rows or form != "table":
        show_rows(list(COLUMNS), list(rows), form)
    else:
        click.echo("Nothing is stale.", err=True)


DRY_RUN = click.option("--dry-run", is_flag=True, help="Say what is stale and why; do nothing.")
FORMAT = click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    show_default=True,
    help="How to print; in csv a text that begins like a formula gets an apostrophe.",
)
