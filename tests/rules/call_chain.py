"""How many frames of our own lie between a command and the mathematics, measured while it runs.

    python tests/rules/call_chain.py run FOLDER --again
    python tests/rules/call_chain.py map SITE.gpkg --again

Counted are functions under `geoprofile/` from that of the command on, but no comprehensions and
lambdas. A thread goes on from the frames of the function that started it. Printed are two stacks
with their lengths: down to the first function of the mathematics, and down to the last.
"""

from __future__ import annotations

import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

PACKAGE = str(Path(__file__).parents[2] / "geoprofile") + "/"
MATHEMATICS = ("hydraulics/", "packers/", "geometry/", "kriging/")


@dataclass
class Longest:
    """The longest stacks seen, outermost function first."""

    to_mathematics: list[str] = field(default_factory=list)
    to_its_floor: list[str] = field(default_factory=list)
    # of a thread, the stack of the function that started it
    before: dict[int, list[str]] = field(default_factory=dict)

    def watch(self, frame: FrameType, _: str, __: Any) -> None:
        """What `sys.settrace` calls where a function starts; no line is traced."""
        name = name_of(frame)
        if name is None or not name.startswith(MATHEMATICS):
            return
        stack = self.stack(frame)
        if len(stack) > len(self.to_its_floor):
            self.to_its_floor = stack
        above = [one for one in stack[:-1] if one.startswith(MATHEMATICS)]
        if not above and len(stack) > len(self.to_mathematics):
            self.to_mathematics = stack

    def stack(self, frame: FrameType | None) -> list[str]:
        """Our own functions from the command, or from the start of its thread, to this one."""
        names = []
        while frame is not None:
            name = name_of(frame)
            if name is not None:
                names.append(name)
            frame = frame.f_back
        return self.before.get(threading.get_ident(), []) + names[::-1]


def name_of(frame: FrameType) -> str | None:
    """File and function, if it is one of ours."""
    code = frame.f_code
    if not code.co_filename.startswith(PACKAGE) or code.co_name.startswith("<"):
        return None
    return f"{code.co_filename.removeprefix(PACKAGE)}:{code.co_name}"


def measured(words: list[str]) -> Longest:
    """Run a command in this process and watch it."""
    from geoprofile.cli import cli

    longest = Longest()
    start = threading.Thread.start

    def begun(thread: threading.Thread) -> None:
        above, run = longest.stack(sys._getframe(1)), thread.run

        def inside() -> None:
            longest.before[threading.get_ident()] = above
            run()

        thread.run = inside  # type: ignore[method-assign]
        start(thread)

    before = sys.gettrace()
    threading.Thread.start = begun  # type: ignore[method-assign]
    threading.settrace(longest.watch)
    sys.settrace(longest.watch)
    try:
        cli.main(words, standalone_mode=False)
    finally:
        sys.settrace(before)
        threading.settrace(before)  # type: ignore[arg-type]
        threading.Thread.start = start  # type: ignore[method-assign]
    return longest


if __name__ == "__main__":
    found = measured(sys.argv[1:])
    for stack in (found.to_mathematics, found.to_its_floor):
        print(len(stack), *stack, sep="\n  ")
