"""What the fault tests share: a small site, commands that can be stopped, the store's tables."""

from __future__ import annotations

import contextlib
import importlib.util
import shutil
import sqlite3
import sys
from pathlib import Path
from types import ModuleType

import pytest

from geoprofile.store import Store
from geoprofile.store.connection import register_functions

HERE = Path(__file__).parent


def _module(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"faults_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


_tables = _module(HERE.parent / "unit" / "store" / "conftest.py")
for _name in (
    "states",
    "failing",
    "mutations",
):  # from here on `import faults_states` works in the tests
    _module(HERE / f"{_name}.py")
store, filled, edit, make = _tables.store, _tables.filled, _tables.edit, _tables.make


def pytest_addoption(parser: pytest.Parser) -> None:
    """`pytest tests/faults --kills 25` kills every command so many times."""
    parser.addoption("--kills", type=int, default=1, help="Kills of every command that writes.")


@pytest.fixture(scope="session")
def kills(request: pytest.FixtureRequest) -> int:
    """How often every command that writes is killed."""
    return int(request.config.getoption("--kills", 1))


@pytest.fixture(scope="session")
def warm(tmp_path_factory: pytest.TempPathFactory):
    """Runs commands that can be stopped at any moment."""
    runner = _module(HERE / "commands.py").Warm(tmp_path_factory.mktemp("warm") / "said")
    yield runner
    runner.close()


@pytest.fixture(scope="session")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tables of the small site, not yet loaded. Treat them as read-only."""
    return _module(HERE / "small_site.py").write_small_site(tmp_path_factory.mktemp("in") / "site")


@pytest.fixture(scope="session")
def computed(tmp_path_factory: pytest.TempPathFactory, small_run: Path, warm) -> Path:
    """The small site with everything computed. Treat it as read-only."""
    folder = tmp_path_factory.mktemp("heated") / "site"
    shutil.copytree(small_run, folder)
    # not forked: what it imports and loads is there in every fork
    words = ("map", "site.gpkg", "--again", "--figures", "drawn")
    assert warm.run(words, folder, fork=False) == 0, warm.said.read_text()
    return small_run


@pytest.fixture(scope="session")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound file with tables and one layer. Treat it as read-only."""
    place = tmp_path_factory.mktemp("sound") / "site.gpkg"
    site = Store.create(place, name="Try", crs=_tables.CRS, vertical_datum="local")
    layers = {"borehole_path": _tables.paths("B1")}
    site.write(_tables.Changes("load", upserts=_tables.field_tables(), derived=layers))
    return place


@pytest.fixture
def copy(sound: Path, tmp_path: Path) -> Store:
    """A copy of the sound file to be damaged."""
    return Store(Path(shutil.copy(sound, tmp_path / "site.gpkg")))


@pytest.fixture
def damage():
    """Run statements on a file as a program that respects nothing."""

    def run(path: Path, statements: str) -> None:
        # a trigger's body holds semicolons of its own
        single = [statements] if "TRIGGER" in statements else statements.split(";")
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            register_functions(other)
            other.execute("PRAGMA foreign_keys=OFF")
            for statement in single:
                other.execute(statement)

    return run
