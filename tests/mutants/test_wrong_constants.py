"""A wrong constant makes `geoprofile validate` fail on the page of its topic; run on request.

pytest -m mutants tests/mutants/test_wrong_constants.py
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

pytestmark = pytest.mark.mutants


def load() -> ModuleType:
    """The script beside this file."""
    path = Path(__file__).with_name("wrong_constants.py")
    spec = importlib.util.spec_from_file_location("wrong_constants", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["wrong_constants"] = module
    spec.loader.exec_module(module)
    return module


script = load()


@pytest.mark.parametrize("wrong", script.WRONG, ids=lambda w: f"{w.path} {w.after}")
def test_validate_fails_on_the_right_page(wrong: object) -> None:
    """Exit code 1, and a line of the topic that the constant belongs to fails."""
    code, topics = script.failed_topics(wrong)
    assert code == 1
    assert wrong.topic in topics  # type: ignore[attr-defined]
