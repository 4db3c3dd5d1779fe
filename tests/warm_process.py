"""Commands in forks of one process that has the libraries imported: a start-up less each time.

Run as a script this file is the process that `WarmProcess` talks to. Every command is a process of
its own with its own folder, environment, output and exit code, and goes through the real `main`;
but one that is not forked, which leaves in the process what it imported and compiled.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

with contextlib.suppress(ImportError):  # not everywhere
    import resource

ROOT = Path(__file__).parents[1]
IMPORTED = (
    "geoprofile.cli",
    "geoprofile.app.running",
    "geoprofile.hydraulics",
    "geoprofile.kriging",
    "geoprofile.products.figures",
    "geoprofile.report",
    "geoprofile.gisproject",
    "geoprofile.handover",
    "contourpy",
    "fiona",
    "fontTools.subset",
    "geopandas",
    "matplotlib.backends.backend_svg",
    "pyarrow.dataset",
    "pyogrio",
    "scipy.ndimage",
    "scipy.optimize",
    "scipy.stats",
)


class WarmProcess:
    """The process that forks; `run` answers as `subprocess.run` does."""

    def __init__(self) -> None:
        """Start it."""
        self._process = subprocess.Popen(
            [sys.executable, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )

    def run(
        self,
        words: Sequence[str],
        cwd: Path | None,
        env: Mapping[str, str],
        *,
        fork: bool = True,
        bytes_a_file: int | None = None,
    ) -> subprocess.CompletedProcess[str]:
        """Run one command to its end; without `fork` later ones find it warmer.

        With `bytes_a_file` no file of its own can grow beyond that: a disk that is full.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with tempfile.TemporaryDirectory() as folder:
            said = [Path(folder) / name for name in ("out", "err")]
            asked = {
                "words": list(words),
                "cwd": str(cwd or Path.cwd()),
                "env": dict(env),
                "said": [str(p) for p in said],
                "fork": fork,
                "bytes_a_file": bytes_a_file,
            }
            self._process.stdin.write(json.dumps(asked) + "\n")
            code = int(self._process.stdout.readline())
            out, err = (p.read_text(encoding="utf-8") for p in said)
        return subprocess.CompletedProcess(["geoprofile", *words], code, out, err)

    def close(self) -> None:
        """End it."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()


def _serve() -> None:
    """Fork for every line read, and say the exit code when the command has ended."""
    for name in IMPORTED:
        __import__(name)
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    for line in os.fdopen(os.dup(0)):  # a command has an empty input of its own
        asked = json.loads(line)
        if not asked["fork"]:
            kept = dict(os.environ)
            print(_command(asked), file=answers)
            os.environ.clear()
            os.environ.update(kept)
            continue
        pid = os.fork()
        if pid == 0:
            os._exit(_command(asked))
        print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), file=answers)


def _command(asked: dict[str, Any]) -> int:
    """Be the command; its exit code."""
    from geoprofile.cli import main

    for number, path in enumerate(asked["said"], start=1):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.environ.clear()
    os.environ.update(asked["env"])
    os.chdir(asked["cwd"])
    sys.argv = ["geoprofile", *asked["words"]]
    if asked["bytes_a_file"] is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["bytes_a_file"],) * 2)
    code = 0
    try:
        main()
    except SystemExit as leaving:
        code = leaving.code if isinstance(leaving.code, int) else int(bool(leaving.code))
    except BaseException:
        traceback.print_exc()
        code = 1
    for stream in (sys.stdout, sys.stderr):
        stream.flush()
    return code


if __name__ == "__main__":
    _serve()
