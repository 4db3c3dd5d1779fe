"""What the plugin says of the program that it finds; the GIS itself is not needed for that.

The modules of the GIS that the files import are empty here: nothing of them is called.
"""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

TEMPLATE = Path(__file__).parents[3] / "geoprofile" / "gisplugin" / "template"
GIS = ("qgis", "qgis.core", "qgis.PyQt", "qgis.PyQt.QtCore", "qgis.PyQt.QtWidgets")


class Empty(ModuleType):
    """A module in which every name is an empty class."""

    def __getattr__(self, name: str) -> type:
        """Any name of the GIS."""
        if name.startswith("__"):
            raise AttributeError(name)
        return type(name, (), {})


@pytest.fixture
def plugin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The files of the plugin as a package, written by version 2.3."""
    for name in ("__init__.py", "child.py", "program.py", "environment.py"):
        (tmp_path / "made_up_plugin").mkdir(exist_ok=True)
        text = (TEMPLATE / name).read_text(encoding="utf-8")
        (tmp_path / "made_up_plugin" / name).write_text(text, encoding="utf-8")
    said = json.dumps({"description": 1, "version": "2.3.0"})
    (tmp_path / "made_up_plugin" / "description.json").write_text(said, encoding="utf-8")
    for name in GIS:
        monkeypatch.setitem(sys.modules, name, Empty(name))
    monkeypatch.syspath_prepend(tmp_path)
    yield SimpleNamespace(
        **{
            name: importlib.import_module(f"made_up_plugin.{name}")
            for name in ("program", "environment")
        }
    )
    for name in [name for name in sys.modules if name.startswith("made_up_plugin")]:
        del sys.modules[name]


@pytest.mark.parametrize("version", ["2.3.0", "2.4.1", "3.0.0"])
def test_a_program_as_new_as_the_plugin_will_do(plugin: Any, version: str) -> None:
    """The same version, and later ones of the same form."""
    told = {"description": 1, "version": version}
    assert plugin.program.agreed("python", told) == told


@pytest.mark.parametrize(("form", "version"), [(1, "2.2.9"), (1, "1.9.0"), (2, "2.3.0")])
def test_an_older_program_or_another_form_is_refused(plugin: Any, form: int, version: str) -> None:
    """With both versions in the words."""
    with pytest.raises(plugin.program.ProgramError, match=rf"found geoprofile {version}.*2\.3\.0"):
        plugin.program.agreed("python", {"description": form, "version": version})


def test_a_step_that_fails_says_its_last_three_lines(
    plugin: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was answered, then what else was said."""
    answer = SimpleNamespace(code=1, text="one\ntwo\n", other=["three", "four"])
    monkeypatch.setattr(plugin.environment, "call", lambda *about: answer)
    with pytest.raises(plugin.program.ProgramError, match=r"It said: two three four$"):
        plugin.environment._step("python", ["-m", "venv"], "a new environment")
