"""Two hands on one site folder in any order: nothing is lost, hidden or computed from the past.

What is found is compared with a model of plain dictionaries (`geoprofile.testing.book`): it must be
what one command after the other leaves. On request a thousand pairs, with `-m calibration`.
"""

from __future__ import annotations

import itertools
import os

import pytest
from hypothesis import HealthCheck, Phase, settings

from geoprofile.store import restoring
from geoprofile.store import store as store_module
from geoprofile.testing.hands import HOLE, KEYS, LOCKED, MOMENTS, START, Yard, copy_of
from geoprofile.testing.mishaps import CAN_HAPPEN, HALF_SAVED, SAVED
from geoprofile.testing.walks import machine, walk

ON_REQUEST = int(os.environ.get("INTERLEAVINGS", "1000"))
EACH = 10  # pairs in one folder
needs_a_system = pytest.mark.skipif(not CAN_HAPPEN, reason="there is no fork and no limit")
TCE = ("criterion", "TCE")
B1 = (HOLE, "B1")


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """A small folder, loaded and computed. Treat it as read-only."""
    return Yard(tmp_path_factory.mktemp("template") / "yard")


@pytest.fixture
def yard(template, tmp_path):
    """A copy of it."""
    return copy_of(template, tmp_path / "yard")


def test_fifty_random_pairs(template, tmp_path):
    """Whatever the order: both commands are as if one had come after the other."""
    found = [walk(template, tmp_path / str(seed), seed, EACH) for seed in range(5)]
    assert [line for tally in found for line in tally.amiss] == []
    assert sum(tally.pairs for tally in found) == 50


@pytest.mark.calibration
def test_a_thousand_random_pairs(template, tmp_path):
    """The same with other seeds; INTERLEAVINGS says how many."""
    found = [
        walk(template, tmp_path / str(s), s, EACH) for s in range(100, 100 + ON_REQUEST // EACH)
    ]
    assert [line for tally in found for line in tally.amiss] == []
    assert sum(tally.pairs for tally in found) == ON_REQUEST // EACH * EACH


@pytest.mark.calibration
def test_every_pair_of_commands_at_every_moment(template, tmp_path):
    """Each command, and each other one at each moment that it reaches, from a file with edits."""
    for number, (first, second, moment) in enumerate(
        itertools.product(range(5), range(8), sorted(MOMENTS))
    ):
        yard = copy_of(template, tmp_path / str(number))
        yard.together(yard.change_file(B1, 30.0))
        yard.together(yard.edit(TCE, 30.0))
        acts = (yard.load("files"), yard.run(), yard.compute(), yard.restore(0), yard.migrate())
        others = (*acts, yard.edit(B1, 40.0), yard.change_file(TCE, 40.0), yard.age())
        yard.together(acts[first], others[second], moment)
        yard.settle()


def test_the_state_machine_agrees(template, tmp_path):
    """Any order that the search comes upon; what fails is shrunk to the fewest commands."""
    places = itertools.count()
    two_hands = machine(lambda: template, lambda: tmp_path / f"m{next(places)}")
    case = two_hands.TestCase
    case.settings = settings(
        max_examples=3,
        stateful_step_count=4,
        phases=[Phase.generate],  # shrinking takes minutes: on request, without this line
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    case().runTest()


RUN_MOMENTS = [m for m in MOMENTS if "keeping" not in m and "layout" not in m]


def by_default(moments, often=2):
    """Every second of them, the rest on request: random pairs meet all of them."""
    rest = pytest.mark.calibration
    return [pytest.param(m, marks=rest if n % often else ()) for n, m in enumerate(moments)]


@pytest.mark.parametrize("moment", by_default(RUN_MOMENTS))
def test_an_edit_during_a_run_is_computed_and_told(yard, moment):
    """A depth saved in the GIS while `run` works is in the lengths after the next run at last."""
    yard.together(yard.change_file((HOLE, "B2"), 30.0))
    yard.together(yard.run(), yard.edit(B1, 40.0), moment)
    yard.settle()
    assert yard.book.lengths[B1] == 40.0
    assert B1 in yard.book.told
    assert yard.book.rows[HOLE, "B2"] == 30.0


@pytest.mark.parametrize("moment", by_default(list(MOMENTS)[1:7]))
def test_an_edit_of_the_row_that_is_loaded_is_kept_and_told(yard, moment):
    """The file and the GIS change the same row: the edit stays, and the load says so."""
    yard.together(yard.change_file(TCE, 30.0))
    yard.together(yard.load(), yard.edit(TCE, 40.0), moment)
    yard.settle()
    assert yard.book.rows[TCE] == 40.0
    assert TCE in yard.book.told


def test_findings_of_a_load_outlive_a_command_that_was_computing(yard):
    """The difference that a load tells stays when another command stores what it computed."""
    yard.together(yard.edit(B1, 40.0))
    yard.together(yard.edit(TCE, 40.0))
    yard.together(yard.compute(), yard.load(), "before writing")
    assert yard.book.told == {B1, TCE}


def test_files_are_loaded_again_after_a_state_put_back_during_a_run(yard):
    """The run that computed an earlier state does not take it for that of the files."""
    yard.together(yard.change_file(B1, 30.0))
    yard.together(yard.run(), yard.restore(0), "after writing")
    yard.settle()
    assert yard.book.rows[B1] == yard.book.lengths[B1] == 30.0


def test_a_load_that_is_refused_at_last_leaves_no_copy(yard):
    """A file of an earlier layout takes the place of the one for which the copy was taken."""
    yard.together(yard.change_file(B1, 30.0))
    yard.together(yard.edit(TCE, 30.0))
    yard.together(yard.load("files"), yard.age(), "before writing")
    assert yard.book.kept == ()


def test_an_edit_between_the_kept_copy_and_its_replacement_is_kept(yard):
    """Whatever a restore replaces lies beside it, the last edit too."""
    yard.together(yard.restore(0), yard.edit(TCE, 40.0), "after keeping")
    assert yard.book.rows == START
    assert yard.book.kept[-1][TCE] == 40.0


def test_a_copy_with_a_row_outside_the_listed_extent_can_be_put_back(yard):
    """A program that draws a point and does not keep the list of extents spoils no copy."""
    yard.together(yard.edit((HOLE, "B3"), 40.0))
    yard.take_copy()
    yard.together(yard.edit(TCE, 40.0))
    yard.together(yard.restore(1))
    assert yard.book.rows[HOLE, "B3"] == 40.0


def test_a_file_that_another_command_migrates_is_migrated_once(yard):
    """The second finds nothing left to do, and leaves no copy."""
    yard.together(yard.age())
    yard.together(yard.migrate(), yard.migrate(), "before the layout is changed")
    assert len(yard.book.kept) == 1


@pytest.mark.parametrize("moment", sorted(LOCKED))
def test_within_a_transaction_the_file_is_locked(yard, moment):
    """The GIS is refused and has to save again: its edit is not half taken."""
    yard.together(yard.change_file(B1, 30.0))
    first = yard.load()
    if "rebuilt" in moment:
        yard.together(yard.age())
        first = yard.migrate()
    yard.together(first, yard.edit(TCE, 40.0), moment)
    assert yard.book.rows[TCE] == START[TCE]


@pytest.mark.parametrize("left", [SAVED, HALF_SAVED])
@needs_a_system
def test_what_a_killed_editor_leaves_is_used_whole_or_undone(yard, left):
    """A row that it saved is computed and told, one that it was saving never was."""
    yard.together(yard.run(), yard.lose_editor(B1, 40.0, left), "before writing")
    yard.settle()
    assert yard.book.lengths[B1] == (40.0 if left == SAVED else START[B1])


@pytest.mark.parametrize("left", [SAVED, HALF_SAVED])
@needs_a_system
def test_what_a_killed_editor_leaves_spoils_no_other_state(yard, left):
    """A copy that somebody puts in the place of the file is read as it is, and computed."""
    yard.together(yard.edit(B1, 40.0))
    yard.together(yard.compute())
    yard.together(yard.exchange(0, left))
    assert yard.book.rows == START
    yard.settle()


@pytest.mark.parametrize(
    ("command", "moment"),
    [
        ("load", "after opening to write"),
        ("load", "after rows are stored"),
        ("run", "before computing"),
        ("restore", "after keeping"),
        ("migrate", "before tables are rebuilt"),
    ],
)
@needs_a_system
def test_a_disk_that_is_full_at_a_moment_costs_nothing(yard, command, moment):
    """Whole steps are kept, the rest is told as not done; with room again all goes on."""
    yard.together(yard.change_file(B1, 30.0))
    yard.together(yard.edit(TCE, 40.0))
    if command == "migrate":
        yard.together(yard.age())
    first = {
        "load": yard.load("files"),
        "run": yard.run(),
        "restore": yard.restore(0),
        "migrate": yard.migrate(),
    }[command]
    yard.together(first, yard.fill_disk(1), moment)
    if command != "restore":
        assert yard.book.rows[TCE] == 40.0
    yard.settle()


@pytest.mark.parametrize("weak", ["store", "restore"])
def test_a_store_that_loses_values_is_caught(yard, monkeypatch, weak):
    """The comparison with the model can fail: without each guard it does."""
    yard.together(yard.change_file(B1, 30.0))
    first, moment = yard.load(), "before writing"
    if weak == "store":
        monkeypatch.setattr(store_module, "refuse_changed", lambda *seen: None)
    else:
        monkeypatch.setattr(restoring, "_watch", lambda path, is_same: lambda *status: None)
        first, moment = yard.restore(0), "after keeping"
    with pytest.raises(AssertionError, match=r"found .*, meant"):
        yard.together(first, yard.edit(B1, 40.0), moment)
    assert set(KEYS) >= set(START)
