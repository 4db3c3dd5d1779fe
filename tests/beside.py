"""Modules that lie among the tests, for test files that share what they make."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

TESTS = Path(__file__).parent


def module_of(place: str) -> ModuleType:
    """The module at a place below the folder of the tests, loaded once."""
    name = "beside_" + place.removesuffix(".py").replace("/", "_")
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, TESTS / place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
