"""Every command that writes is killed or interrupted at any moment: all of it is done, or none.

`pytest tests/faults --kills 25` does it so many times; every second kill is aimed at the writing.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from faults_states import (
    NO_ROWS,
    Digests,
    corrupt,
    digests,
    emptied,
    more_tables,
    nothing,
    without_project,
)

from geoprofile.cli import cli
from geoprofile.schema import DERIVED, INPUT
from geoprofile.store import Store, inspect

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no fork and no SIGKILL")


@dataclass(frozen=True)
class Case:
    """A command, what is prepared for it, and the site file that it writes."""

    words: tuple[str, ...]
    prepare: Callable[[Path], None] = nothing
    target: str = "site.gpkg"


CASES = {
    "create": Case(("create", "new.gpkg", "--crs", "EPSG:32632"), target="new.gpkg"),
    "create over": Case(("create", "site.gpkg", "--crs", "EPSG:32632", "--overwrite")),
    "load": Case(("load", "site.gpkg", "."), more_tables),
    "run": Case(("run", ".", "--set", "map_band.elevations_m=[85]")),
    "conductivity": Case(("conductivity", "site.gpkg", "--again")),
    "interpolate": Case(("interpolate", "site.gpkg", "--set", "model.seed=7")),
    "map": Case(("map", "site.gpkg", "--set", "map_band.elevations_m=[80, 85]")),
    "section": Case(("section", "site.gpkg", "--set", "section.band_width_m=70")),
    "discharge": Case(("discharge", "site.gpkg", "--set", "discharge.seed=7")),
    "advise": Case(("advise", "site.gpkg", "--set", "next_borehole.stand_off_m=9")),
    "restore": Case(("restore", "site.gpkg", "kept.gpkg"), emptied),
    "check": Case(("check", "site.gpkg", "--repair"), corrupt),
    "field": Case(("field", "out", "site.gpkg", "A1", "A2", "--folder", "field")),
    "project": Case(("project", "site.gpkg"), without_project),
}
# these write as `conductivity` does: on request
ALIKE = {"interpolate", "map", "section", "discharge", "advise"}
NAMES = [
    pytest.param(name, marks=pytest.mark.calibration if name in ALIKE else ()) for name in CASES
]
# written once the rest is stored: an answer waits for no project, and the next run brings it
AFTERWARDS = {"qgis_projects"}


# migrate is stopped where its older layouts are made, in tests/history
READING = {
    "compare",
    "completion",
    "describe",
    "explain",
    "inspect",
    "migrate",
    "plugins",
    "portfolio",  # runs other commands; ended on the way in tests/bench
    "reproduce",
    "show",
    "templates",
    "validate",
}


def is_all_or_nothing(found: Digests, old: Digests, new: Digests) -> bool:
    """Whether every table is as before or every one as after, but for what comes afterwards."""
    late = [found.get(name) in (old.get(name), new.get(name)) for name in AFTERWARDS]
    states = [{n: d for n, d in s.items() if n not in AFTERWARDS} for s in (found, old, new)]
    return all(late) and states[0] in states[1:]


def fresh(computed: Path, folder: Path, case: Case) -> Path:
    """The computed site, prepared for a case, in that folder; its site file."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(computed, folder)
    case.prepare(folder)
    return folder / case.target


def seen(folder: Path) -> set[tuple[str, int]]:
    """What lies in a folder, and when each was changed."""
    found = set()
    with os.scandir(folder) as entries:
        for entry in entries:
            try:
                found.add((entry.name, entry.stat().st_mtime_ns))
            except FileNotFoundError:
                continue
    return found


def wait_for_a_change(warm, folder: Path) -> bool:
    """Wait until the folder changes, which is when the writing begins; False when it ended."""
    before = seen(folder)
    while not warm.has_ended(0.0005):
        if seen(folder) != before:
            return True
    return False


@dataclass(frozen=True)
class Whole:
    """What a command leaves when nobody stops it, and how long it took."""

    new: Digests
    before_writing_s: float
    writing_s: float


def done_whole(warm, folder: Path, case: Case) -> Whole:
    """Run the command to its end."""
    begun = time.monotonic()
    warm.start(case.words, folder)
    wait_for_a_change(warm, folder)
    writing = time.monotonic()
    assert warm.code() == 0, warm.said.read_text()
    ended = time.monotonic()
    return Whole(digests(folder / case.target), writing - begun, ended - writing)


def stopped(
    warm,
    folder: Path,
    words: tuple[str, ...],
    whole: Whole,
    chance: random.Random,
    number: int,
    by: int = signal.SIGKILL,
) -> int:
    """The exit code of a command stopped, by turns in the midst of writing and at any moment."""
    warm.start(words, folder)
    if number % 2 == 0 and wait_for_a_change(warm, folder):
        time.sleep(chance.uniform(0, whole.writing_s))
    elif number % 2:
        warm.has_ended(chance.uniform(0, whole.before_writing_s + whole.writing_s))
    if not warm.has_ended():
        warm.send(by)
    return warm.code()


@pytest.fixture(scope="module")
def states(computed, warm, tmp_path_factory) -> Callable[[str], tuple[Digests, Whole]]:
    """The tables before a command of `CASES`, and what it leaves when nobody stops it."""
    known: dict[str, tuple[Digests, Whole]] = {}

    def of(name: str) -> tuple[Digests, Whole]:
        if name not in known:
            folder = tmp_path_factory.mktemp("whole") / "site"
            path = fresh(computed, folder, CASES[name])
            known[name] = digests(path), done_whole(warm, folder, CASES[name])
        return known[name]

    return of


@pytest.mark.parametrize("name", NAMES)
def test_a_killed_command_leaves_all_or_nothing(computed, states, tmp_path, warm, kills, name):
    """Every table is as before or as after, the file is sound, and the next command tidies up."""
    case, folder, chance = CASES[name], tmp_path / "site", random.Random(name)
    old, whole = states(name)
    assert old != whole.new
    codes = []
    for number in range(kills):
        path = fresh(computed, folder, case)
        codes.append(stopped(warm, folder, case.words, whole, chance, number))
        left = path.exists() and Store.open(path)
        assert is_all_or_nothing(digests(path), old, whole.new)
        if left and name != "check":
            assert [f for f in inspect(path) if f.severity == "error"] == []
    print(f"{name}: {codes.count(-signal.SIGKILL)} of {kills} were killed before the end")
    if digests(path) != whole.new:
        is_old = all(digests(path).get(n) == d for n, d in old.items() if n not in AFTERWARDS)
        again = case.words if is_old else ("project", "site.gpkg")
        assert warm.run(again, folder) == 0, warm.said.read_text()
        assert digests(path) == whole.new
    assert not [p.name for p in folder.iterdir() if p.name.startswith(".") or "-journal" in p.name]


@pytest.mark.parametrize("name", NAMES)
def test_an_interrupted_command_ends_with_one_message(computed, states, tmp_path, warm, name):
    """Ctrl-C is as clean as a kill: exit code 130, one line, all or nothing, nothing beside."""
    case, folder, chance = CASES[name], tmp_path / "site", random.Random(name)
    old, whole = states(name)
    path = fresh(computed, folder, case)
    names = {p.name for p in folder.iterdir()}
    number = list(CASES).index(name)
    code = stopped(warm, folder, case.words, whole, chance, number, signal.SIGINT)
    assert code in (0, 130)
    if code == 130:
        said = [line for line in warm.said.read_text().splitlines() if line]
        assert said[-1] == "Stopped; nothing half-done was stored."
        assert [line for line in said[:-1] if not line.startswith("computed: ")] == []
        made = {p.name for p in folder.iterdir()} - names
        assert made <= {path.name, "sections", "site.qgz", "field"} | copies(folder)
    assert is_all_or_nothing(digests(path), old, whole.new)


def copies(folder: Path) -> set[str]:
    """Safety copies, which are whole files of their own."""
    return {p.name for p in folder.glob("site.*.gpkg") if Store.open(p)}


def test_a_first_run_that_is_killed_goes_on_where_it_stopped(
    computed, inputs, tmp_path, warm, kills
):
    """Tables are loaded whole, then layers computed whole; the next run does what is missing."""
    folder, chance = tmp_path / "site", random.Random(5)
    whole = digests(computed / "site.gpkg")
    for _ in range(kills):
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(inputs, folder)
        warm.start(("run", "."), folder)
        if not warm.has_ended(chance.uniform(0, 4)):
            warm.send(signal.SIGKILL)
        warm.code()
        if (folder / "site.gpkg").exists():
            Store.open(folder / "site.gpkg")
        found = digests(folder / "site.gpkg")
        for tables in (INPUT, [t for t in DERIVED if t.name != "finding"]):
            names = [t.name for t in tables if t.name in whole]
            kept = [found.get(name, NO_ROWS) for name in names]
            assert kept in ([NO_ROWS] * len(names), [whole[name] for name in names])
    assert warm.run(("run", "."), folder) == 0, warm.said.read_text()
    assert {**whole, "run": ""} == {**digests(folder / "site.gpkg"), "run": ""}


PIECES = {
    "plan": ("plan", "site.gpkg", "A2", "--folder", "made"),
    "report": ("report", "site.gpkg", "made/report.html"),
    "plugin": ("plugin", "made"),
    "handover": ("handover", "site.gpkg", "made/package"),
    "section": ("section", "site.gpkg", "--figures", "made"),
}
FIELD_OUT = ("field", "out", "site.gpkg", "A2", "--folder", "made")


@pytest.mark.parametrize("name", PIECES)
def test_files_of_a_killed_command_are_whole_or_not_there(computed, tmp_path, warm, kills, name):
    """No half page, picture or table under its own name, and not a byte of the site changed."""
    folder, words, chance = tmp_path / "site", PIECES[name], random.Random(name)
    case = Case(words)
    path = fresh(computed, folder, case)
    before = path.read_bytes()
    (folder / "made").mkdir()
    whole = done_whole(warm, folder, case)
    made = files_below(folder / "made")
    assert made
    for number in range(kills):
        fresh(computed, folder, case)
        (folder / "made").mkdir()
        stopped(warm, folder, words, whole, chance, number)
        left = files_below(folder / "made")
        assert path.read_bytes() == before
        if name == "handover":  # files of a package bear the time at which they were made
            assert left.keys() in (set(), made.keys())
            assert_sums_hold(folder / "made" / "package")
        else:
            assert left.items() <= made.items()


def test_a_field_copy_that_was_killed_is_whole_known_and_taken_back(
    computed, tmp_path, warm, kills
):
    """Every file that has a name can be brought back: the site knows the copy, kept whole or not at
    all; no table that it came from is changed, and nothing half-made has a name.
    """
    folder, words, chance = tmp_path / "site", FIELD_OUT, random.Random(6)
    case = Case(words)
    old = digests(fresh(computed, folder, case))
    whole = done_whole(warm, folder, case)
    new = {name for name, digest in whole.new.items() if old.get(name) != digest}
    assert "field_copy" in new
    assert not new & {table.name for table in DERIVED if table.name != "finding"}
    for number in range(kills):
        path = fresh(computed, folder, case)
        stopped(warm, folder, words, whole, chance, number)
        found = digests(path)
        assert {n for n, digest in found.items() if old.get(n) != digest} in (set(), new)
        known = {str(m) for (m,) in Store.open(path).rows("field_copy", ["copy"])}
        named = list((folder / "made").glob("field_*"))
        assert {file.stem.removeprefix("field_") for file in named} <= known
        for copy in (file for file in named if file.suffix == ".gpkg"):
            assert [f for f in inspect(copy) if f.severity == "error"] == []
            assert warm.run(("field", "in", "site.gpkg", str(copy)), folder) == 0
    assert warm.run(words, folder) == 0
    assert not list((folder / "made").glob(".*"))  # what was left half-made is swept by the next


def files_below(folder: Path) -> Digests:
    """SHA-256 of every file but those that are not finished, which are hidden."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.parts)
    }


def assert_sums_hold(package: Path) -> None:
    """Every file of a hand-over has the checksum that it lists."""
    found = files_below(package)
    listed = package / "checksums.sha256"
    lines = listed.read_text().splitlines() if listed.exists() else []
    for line in lines:
        digest, name = line.split("  ", 1)
        assert found[name] == digest
    assert bool(lines) == bool(found)


def test_every_command_is_stopped_or_only_reads():
    """A new command is added to one of the lists of this file."""
    names = {
        words[0] for words in (*(c.words for c in CASES.values()), *PIECES.values(), FIELD_OUT)
    }
    assert set(cli.list_commands(None)) == names | READING
