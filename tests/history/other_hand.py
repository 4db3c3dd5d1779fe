"""One program runs, and at a chosen moment of it another one does its work to the end.

    python other_hand.py MOMENT TURN '[["program", "word", ...], ...]' words of geoprofile ...

Run as a script this is `geoprofile` itself, but for the pause at the TURN-th time of the MOMENT, or
each time for turn 0.
"""

from __future__ import annotations

import importlib
import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
# where a moment lies: the function before which, or after which, the other program has its turn
MOMENTS = {
    "before files are read": ("geoprofile.intake", "read_files", True),
    "after files are read": ("geoprofile.intake", "read_files", False),
    "before merging": ("geoprofile.intake", "merge", True),
    "before computing": ("geoprofile.engine.computing", "compute", True),
    "after computing": ("geoprofile.engine.computing", "compute", False),
    "before writing": ("geoprofile.store.store:Store", "write", True),
    "after writing": ("geoprofile.store.store:Store", "write", False),
    "before drawing": ("geoprofile.app.figures", "draw_run", True),
    "after drawing": ("geoprofile.app.figures", "draw_run", False),
    "before remembering": ("geoprofile.app.running", "_remember", True),
    "after opening": ("geoprofile.store.store", "open_checked", False),
}


def edit_words(path: Path, *statements: str) -> list[str]:
    """The words that run SQL on a site file as a GIS would, in a process of its own."""
    return [sys.executable, __file__, "edit", str(path), *statements]


def geoprofile_words(*words: object) -> list[str]:
    """The words of a geoprofile command."""
    return [sys.executable, "-m", "geoprofile", *map(str, words)]


def interleaved(
    moment: str, others: Sequence[Sequence[str]], *words: object, turn: int = 1
) -> subprocess.CompletedProcess[str]:
    """Run a command, and the other programs at that moment of it."""
    said = [sys.executable, __file__, moment, str(turn), json.dumps(others), *map(str, words)]
    return run_words(said)


def run_words(words: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run a program to its end."""
    return subprocess.run(
        list(words),
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def _edit(path: str, statements: Sequence[str]) -> None:
    sys.path.insert(0, str(ROOT))
    from geoprofile.store.connection import register_functions

    connection = sqlite3.connect(path, isolation_level=None, timeout=20)
    register_functions(connection)
    connection.execute("BEGIN IMMEDIATE")
    for statement in statements:
        connection.execute(statement)
    connection.execute("COMMIT")
    connection.close()


def _pause(moment: str, turn: int, others: list[list[str]]) -> None:
    """Have the other programs run at that moment of this one."""
    place, name, is_before = MOMENTS[moment]
    module, _, kind = place.partition(":")
    owner = importlib.import_module(module)
    owner = getattr(owner, kind) if kind else owner
    original: Callable[..., Any] = getattr(owner, name)
    left = [turn]

    def others_now() -> None:
        left[0] -= 1
        if left[0] == 0 or turn == 0:
            for words in others:
                done = run_words(words)
                if done.returncode:
                    sys.stderr.write(f"OTHER {done.returncode}: {done.stderr}\n")

    def paused(*args: Any, **options: Any) -> Any:
        if is_before:
            others_now()
        result = original(*args, **options)
        if not is_before:
            others_now()
        return result

    setattr(owner, name, paused)


def _main(words: list[str]) -> None:
    if words[0] == "edit":
        _edit(words[1], words[2:])
        return
    sys.path.insert(0, str(ROOT))
    from geoprofile.cli import main

    _pause(words[0], int(words[1]), json.loads(words[2]))
    sys.argv = ["geoprofile", *words[3:]]
    main()


if __name__ == "__main__":
    _main(sys.argv[1:])
