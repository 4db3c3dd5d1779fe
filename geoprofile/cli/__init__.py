"""The command line: one file per command, loaded when it is asked for."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

import click

from geoprofile import __version__
from geoprofile.cli._common import note_settled
from geoprofile.cli._group import CommandGroup
from geoprofile.cli._lines import Lines, begin, lines
from geoprofile.cli._net import INTERNAL, close_output, crash_file, drop_output, known_error
from geoprofile.errors import GeoprofileError, Problem

POLLUTED = ("PROJ_LIB", "PROJ_DATA", "GDAL_DATA", "GDAL_DRIVER_PATH")
STOPPED = 130  # exit code after Ctrl-C


@click.group(cls=CommandGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="geoprofile")
def cli() -> None:
    """Packer tests and zone samples to K, plume maps, sections and the next depth to test.

    One GeoPackage per site; any desktop GIS opens it. Start with `geoprofile run FOLDER`.

    Results support a qualified person's judgement and do not replace it: local codes, the makers'
    limits and licensed practice come first.
    """


def main() -> None:
    """Run the command; a user's mistake ends in a message and an exit code, never a traceback."""
    loud, sys.unraisablehook = sys.unraisablehook, _say_nothing
    try:
        _run()
    except SystemExit as leaving:
        if leaving.code != STOPPED:  # what is half-made then complains as it goes
            sys.unraisablehook = loud
        raise
    sys.unraisablehook = loud


def _run() -> None:
    """Run the command; leave with its exit code if that is not 0."""
    _clean_environment()
    told = begin(sys.argv[1:])
    try:
        code = _answered()
        close_output()
        if told is not None:
            told.end()
        if code:
            sys.exit(code)
    except click.exceptions.Abort:
        if told is not None:
            told.say(stopped=True, exit_code=STOPPED)
            sys.exit(STOPPED)
        click.echo("Stopped; nothing half-done was stored.", err=True)
        sys.exit(STOPPED)
    except click.ClickException as error:
        _show_usage(error, told)
        sys.exit(2)
    except click.exceptions.Exit as leaving:
        sys.exit(leaving.exit_code)
    except BrokenPipeError:
        drop_output()
        sys.stderr.close()
        sys.exit(1)
    except Exception as error:
        sys.exit(_told(error))


def _answered() -> str | int | None:
    """Run the command; the exit code that is its own answer, a damaged file for instance."""
    try:
        cli.main(standalone_mode=False, prog_name="geoprofile")
    except SystemExit as leaving:
        return leaving.code
    finally:
        note_settled()
    return 0


def _told(error: Exception) -> int:
    """Say what went wrong; the exit code."""
    known = known_error(error)
    told = lines()
    with suppress(OSError, ValueError):
        if known is None and told is not None:
            todo = crash_file(error, sys.argv[1:])
            found = f"a fault of its own ({type(error).__name__})"
            told.problems([Problem("geoprofile", found, "none", f"{todo}.")], INTERNAL)
        elif known is not None:
            _show(known, lines())
        else:
            todo = crash_file(error, sys.argv[1:])
            click.echo(
                click.style("error: ", fg="red")
                + f"geoprofile: found a fault of its own ({type(error).__name__}), expected none. "
                f"Nothing half-done was stored; {todo}.",
                err=True,
            )
    drop_output()
    return INTERNAL if known is None else known.exit_code


def _say_nothing(_: object) -> None:
    """No traceback of what a library could not even raise: nobody can act on it."""


def _show_usage(error: click.ClickException, told: Lines | None) -> None:
    """What click found wrong with the words of a command."""
    if told is None:
        error.show()
        return
    place = getattr(error, "ctx", None)
    command = place.command_path if place is not None else "geoprofile"
    message = error.format_message().rstrip(".")
    rest = ("the options that it knows", f"See `{command} --help`.")
    told.problems([Problem(command, message, *rest)], 2)


def _show(error: GeoprofileError, told: Lines | None) -> None:
    """Each problem on its own line, with the number of them when there are several."""
    if told is not None:
        told.problems(error.problems, error.exit_code)
        return
    for problem in error.problems:
        click.echo(click.style("error: ", fg="red") + str(problem), err=True)
    if len(error.problems) > 1:
        click.echo(f"{len(error.problems)} problems; nothing was stored.", err=True)


def _clean_environment() -> None:
    """Drop library paths that another program set: they break the libraries that we bring."""
    if os.environ.get("GEOPROFILE_KEEP_PROJ") != "1":
        for name in POLLUTED:
            os.environ.pop(name, None)
