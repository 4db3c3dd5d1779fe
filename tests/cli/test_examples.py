"""Every example in the README and at the end of a help text runs as it is written."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from geoprofile.cli import cli

README = Path(__file__).parents[2] / "README.md"
Command = Callable[..., subprocess.CompletedProcess[str]]


def help_examples() -> list[str]:
    """The example of each command."""
    found = []
    for name in cli.list_commands(None):  # type: ignore[arg-type]
        command = cli.get_command(None, name)  # type: ignore[arg-type]
        assert command is not None
        text = " ".join((command.help or "").split())
        example = re.search(r"Example: geoprofile (.+?)$", text)
        assert example, f"the help of {name} ends without an example"
        found.append(example.group(1))
    return found


def readme_examples() -> list[str]:
    """The commands of the README's console block."""
    block = re.search(r"```console\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert block
    return [x.removeprefix("$ geoprofile ") for x in block.group(1).strip().splitlines()]


@pytest.fixture
def place(demo_run: Path, tmp_path: Path) -> Path:
    """A folder with what examples name: demo_site, site.gpkg."""
    ignore = shutil.ignore_patterns("out")
    shutil.copytree(demo_run, tmp_path / "demo_site", ignore=ignore)
    shutil.copytree(demo_run / "out", tmp_path / "demo_site" / "out")
    shutil.copy(demo_run / "site.gpkg", tmp_path / "site.gpkg")
    return tmp_path


@pytest.mark.parametrize("words", help_examples())
def test_example_of_a_help_runs(words: str, place: Path, command: Command) -> None:
    """Exit code 0, and no traceback; a review gives every table of the demonstration again."""
    needs = shlex.split(words)
    if needs[0] == "reproduce":
        made = command(
            "handover", "demo_site/site.gpkg", needs[1].split("/")[0], "--review", cwd=place
        )
        assert made.returncode == 0, made.stderr
    answer = command(*needs, cwd=place)
    assert answer.returncode == 0, answer.stderr
    if needs[0] == "reproduce":
        assert "byte for byte" in answer.stdout


def test_examples_of_the_readme_run_in_their_order(place: Path, command: Command) -> None:
    """One after the other in one folder, as a newcomer would type them."""
    for words in readme_examples():
        answer = command(*shlex.split(words), cwd=place)
        assert answer.returncode == 0, f"{words}: {answer.stderr}"


def test_python_of_the_readme_runs(demo_run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The Python example runs, beside a demonstration that was run."""
    block = re.search(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert block
    monkeypatch.chdir(demo_run.parent)
    exec(compile(block.group(1), "README.md", "exec"), {})  # noqa: S102
