"""Few functions of ours lie between a command and the mathematics that it asks for."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

HERE = Path(__file__).parent
MOST = 15  # frames down to the first function of the mathematics, that function included
MOST_TO_THE_FLOOR = 28  # down to the last: a search of a fit asks for a factor and its integrals


def module(path: Path) -> ModuleType:
    """A script beside the tests."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    loaded = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = loaded
    spec.loader.exec_module(loaded)
    return loaded


pytestmark = pytest.mark.calibration  # every call is looked at: a minute, on request


@pytest.fixture(scope="module")
def longest(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The longest stacks of `run` on a small site: it loads, computes every layer and draws."""
    small = module(HERE.parent / "faults" / "small_site.py")
    folder = small.write_small_site(tmp_path_factory.mktemp("chain") / "site")
    return module(HERE / "call_chain.py").measured(["run", str(folder), "--quiet"])


def test_a_command_reaches_the_mathematics_in_few_steps(longest: Any) -> None:
    """Layers that only hand on are not worth their names."""
    stack = longest.to_mathematics
    assert stack[0] == "cli/run.py:COMMAND"
    assert len(stack) <= MOST, " -> ".join(stack)


def test_the_mathematics_is_not_deep(longest: Any) -> None:
    """From the command to the last function: who debugs one number walks through all of these."""
    stack = longest.to_its_floor
    assert len(stack) > 15  # the rule reads something
    assert len(stack) <= MOST_TO_THE_FLOOR, " -> ".join(stack)
