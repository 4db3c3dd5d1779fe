"""What a command tells a program that has started it: one JSON object a line, on stderr.

`{"step": "model", "percent": 40, "left_s": 12.5}` while it works (`left_s`, the time left, where it
is known), `{"remark": "..."}`, `{"error": [...]}` with the four parts of each problem, and at the
end `{"done": true, "files": [...], "tables": {...}}`: what was made, and the tables that changed of
each site file it was told of.
"""

from __future__ import annotations

import json
import signal
from collections.abc import Iterable, Sequence
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import Any

import click

from geoprofile.errors import Problem

Moments = dict[str, dict[str, str]]


class Lines:
    """The lines of one command."""

    def __init__(self, words: Sequence[str]) -> None:
        """Remember when the tables of the named site files were last changed."""
        self._words = [w for w in words if not w.startswith("-")]
        self._before = _moments(self._words)
        self._files: list[str] = []
        self._last: tuple[str, int] = ("", -1)

    def say(self, **parts: Any) -> None:
        """One line."""
        click.echo(json.dumps(parts, default=str), err=True)

    def progress(self, step: str, done: int, total: int, *, left_s: float | None = None) -> None:
        """How far a step is, when the whole percent has changed, and the time left if known."""
        now = step, 100 * done // max(total, 1)
        if now != self._last:
            self._last = now
            left = {} if left_s is None else {"left_s": round(left_s, 1)}
            self.say(step=step, percent=now[1], **left)

    def made(self, paths: Iterable[Path | str]) -> None:
        """Files that the command wrote."""
        self._files += [str(Path(p).absolute()) for p in paths]

    def problems(self, found: Sequence[Problem], code: int) -> None:
        """The problems that ended the command, in their four parts."""
        parts = ("where", "found", "expected", "advice")
        self.say(error=[{p: getattr(one, p) for p in parts} for one in found], exit_code=code)

    def end(self) -> None:
        """What was made and what changed."""
        after = _moments(self._words)
        changed = {
            path: [t for t, when in tables.items() if self._before.get(path, {}).get(t) != when]
            for path, tables in after.items()
        }
        tables = {path: names for path, names in changed.items() if names}
        self.say(done=True, files=self._files, tables=tables)


_current: Lines | None = None


def lines() -> Lines | None:
    """The lines of the present command; None where a person reads."""
    return _current


def made(paths: Iterable[Path | str]) -> None:
    """Tell which files were written, where a program wants to know."""
    if _current is not None:
        _current.made(paths)


def begin(words: Sequence[str]) -> Lines | None:
    """Start the lines of a command if its words ask for them; forget those of one before."""
    global _current
    asked = "--progress=json" in words or ("--progress", "json") in pairwise(words)
    _current = Lines(words) if asked else None
    if asked:
        with suppress(ValueError):  # not in the main thread
            signal.signal(signal.SIGTERM, signal.default_int_handler)  # cancelled as by Ctrl-C
    return _current


def _moments(words: Sequence[str]) -> Moments:
    """When each table of the site files that the words name was last changed."""
    from geoprofile.store.last_changes import last_changes

    found: Moments = {}
    for word in words:
        with suppress(OSError, ValueError):
            path = Path(word)
            files = sorted(path.glob("*.gpkg")) if path.is_dir() else [path]
            for file in files:
                if file.suffix == ".gpkg" and file.is_file():
                    found[str(file.absolute())] = last_changes(file)
    return found
