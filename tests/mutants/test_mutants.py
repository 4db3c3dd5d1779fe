"""Wrong signs, constants and comparisons are seen by the tests; an hour, run on request.

pytest -m mutants tests/mutants
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

COUNT, SEED, LEAST = 60, 20261129, 0.95


def load() -> ModuleType:
    """The script beside this file."""
    spec = importlib.util.spec_from_file_location("mutate", Path(__file__).parent / "mutate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["mutate"] = module
    spec.loader.exec_module(module)
    return module


mutate = load()
from related import Related  # noqa: E402

TEXT = "def f(a: float, b: float = 0.5) -> float:\n    return 2.5 * a - b if a < b else a\n"


def test_signs_constants_and_comparisons_are_changed_and_nothing_else() -> None:
    """Five changes of two lines: each alters one place, and the file still compiles."""
    found = mutate.candidates(TEXT)
    assert [(m.before, m.after) for m in found] == [
        ("0.5", "0.65"), ("2.5", "3.25"), ("*", "/"), ("-", "+"), ("<", ">"),
    ]  # fmt: skip
    for mutant in found:
        changed = mutant.applied(TEXT)
        compile(changed, "f.py", "exec")
        assert changed.replace(mutant.after, mutant.before, 1) != changed


def test_words_and_declarations_are_left_alone() -> None:
    """Messages, joined texts and declared settings are not what a reader computes with."""
    text = 'x = "a" + b\ny = f"{2 * a}"\nz = Setting("days", 400.0)\n'
    assert mutate.candidates(text) == []


def test_the_draw_is_the_same_every_time_and_one_of_a_file() -> None:
    """A seed is a promise."""
    first, second = mutate.drawn(20, 1), mutate.drawn(20, 1)
    assert first == second
    assert len({m.path for m in first}) == 20


@pytest.mark.mutants
def test_most_mutants_have_tests_that_know_their_file() -> None:
    """Importers, near and far, are found without a list."""
    related = Related()
    drawn = mutate.drawn(COUNT, SEED)
    assert sum(bool(related.of(m.path)) for m in drawn) >= 0.9 * len(drawn)


def test_listed_equivalents_say_why() -> None:
    """A change that is let off has its reason in words."""
    assert all(len(reason) > 20 for reason in mutate.equivalents().values())


@pytest.mark.mutants
def test_mutants_are_killed(tmp_path: Path) -> None:
    """Of those that change a result, at least 95 %."""
    records = mutate.run(COUNT, SEED, tmp_path)
    alive = [r["key"] for r in records if r["verdict"] != mutate.KILLED and not r["equivalent"]]
    assert mutate.share_killed(records) >= LEAST, alive
