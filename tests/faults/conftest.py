"""What the fault tests share: a small site, commands that can be stopped, the store's tables."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__).parent


def _module(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"faults_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


_tables = _module(HERE.parent / "unit" / "store" / "conftest.py")
store, filled, edit, make = _tables.store, _tables.filled, _tables.edit, _tables.make


def pytest_addoption(parser: pytest.Parser) -> None:
    """`pytest tests/faults --kills 25` kills every command so many times."""
    parser.addoption("--kills", type=int, default=2, help="Kills of every command that writes.")


@pytest.fixture(scope="session")
def kills(request: pytest.FixtureRequest) -> int:
    """How often every command that writes is killed."""
    return int(request.config.getoption("--kills", 2))


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
def computed(tmp_path_factory: pytest.TempPathFactory, inputs: Path, warm) -> Path:
    """The small site with everything computed. Treat it as read-only."""
    import shutil

    folder = tmp_path_factory.mktemp("computed") / "site"
    shutil.copytree(inputs, folder)
    assert warm.run(("run", "."), folder, fork=False) == 0, warm.said.read_text()
    return folder
