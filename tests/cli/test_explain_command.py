"""Small commands that answer questions."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]


def test_explain_answers(command: Command) -> None:
    """A column in words with its unit."""
    answer = command("explain", "interval.top_m")
    assert answer.returncode == 0
    assert "unit: m" in answer.stdout


def test_explain_suggests(command: Command) -> None:
    """Exit 2 and the nearest name."""
    answer = command("explain", "intervall")
    assert answer.returncode == 2
    assert "interval" in answer.stderr


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_names_the_command(command: Command, shell: str) -> None:
    """Lines for each shell."""
    answer = command("completion", shell)
    assert answer.returncode == 0, answer.stderr
    assert "_GEOPROFILE_COMPLETE" in answer.stdout


def test_completion_finds_commands() -> None:
    """What the shell would ask: commands that begin with `hand`."""
    program = "from geoprofile.cli import cli; cli(prog_name='geoprofile')"
    answer = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=False,
        env={
            **os.environ,
            "_GEOPROFILE_COMPLETE": "bash_complete",
            "COMP_WORDS": "geoprofile hand",
            "COMP_CWORD": "1",
        },
    )
    assert "handover" in answer.stdout


def test_every_method_states_its_equation() -> None:
    """A method without an equation could not be defended."""
    from geoprofile.plugins.registry import plugins
    from geoprofile.reference.explain import explain

    for name in plugins("methods"):
        line = next(x for x in explain(name).splitlines() if "equation:" in x)
        assert "=" in line, name
