"""Starts commands in forks of one warm process, so that stopping one costs no start-up.

`Warm` is for the tests; run as a script this file is the process that they talk to.
"""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import traceback
from pathlib import Path

ROOT = Path(__file__).parents[2]


class Warm:
    """A process that has everything imported; one command at a time runs in a fork of it."""

    def __init__(self, said: Path) -> None:
        """Start it; what commands say on stderr goes to the file `said`."""
        self.said = said
        self._pid = 0
        self._process = subprocess.Popen(
            [sys.executable, __file__, str(said)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )

    def start(self, words: tuple[str, ...], folder: Path, *, fork: bool = True) -> None:
        """Start a command as if typed in that folder; without `fork` it warms the process."""
        self._process.stdin.write(json.dumps([words, str(folder), fork]) + "\n")
        self._pid = int(self._process.stdout.readline())

    def send(self, number: int) -> None:
        """Send a signal to the command."""
        os.kill(self._pid, number)

    def has_ended(self, seconds: float = 0.0) -> bool:
        """Whether the command ends within that time."""
        return bool(select.select([self._process.stdout], [], [], seconds)[0])

    def code(self, seconds: float = 900.0) -> int:
        """The command's exit code, below 0 for the signal that ended it."""
        assert self.has_ended(seconds), f"not ended after {seconds} s"
        return int(self._process.stdout.readline())

    def run(self, words: tuple[str, ...], folder: Path, *, fork: bool = True) -> int:
        """Start a command and wait for its exit code."""
        self.start(words, folder, fork=fork)
        return self.code()

    def close(self) -> None:
        """End the warm process."""
        self._process.stdin.close()
        self._process.kill()
        self._process.wait()
        self._process.stdout.close()


def _serve(said: str) -> None:
    """Run a command for every line read; say its process id, then its exit code."""
    sys.path.insert(0, str(ROOT))
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    for line in sys.stdin:
        words, folder, fork = json.loads(line)
        pid = os.fork() if fork else os.getpid()
        if pid == 0:
            code = _command(words, folder, said)
            os._exit(code)
        print(pid, file=answers)
        if fork:
            print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), file=answers)
        else:
            print(_command(words, folder, said), file=answers)


def _command(words: list[str], folder: str, said: str) -> int:
    """Be the command in that folder; its exit code."""
    from geoprofile.cli import main

    os.chdir(folder)
    os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.argv = ["geoprofile", *words]
    try:
        main()
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else int(bool(leaving.code))
    except BaseException:
        traceback.print_exc()
        return 70
    finally:
        sys.stderr.flush()
    return 0


if __name__ == "__main__":
    _serve(sys.argv[1])
