"""SQLite lets any value into any column, and a GIS or a hand may put one there: it is told."""

from __future__ import annotations

import contextlib
import random
import sqlite3
from collections import Counter

import pytest

from geoprofile.errors import DamagedError, GeoprofileError
from geoprofile.store import Changes, Store, inspect, repair

VALUES = (
    *("NULL", "x'00ff'", "x''", "0", "-1", "4611686018427387904", "9e999", "''", "'{'", "'[]'"),
    *("hex(zeroblob(50000))", "'a' || char(0) || 'b'", "'nan'", "x'47500001'", "'2026-13-45'"),
)
# found by corrupting files at random: each ended in a traceback once
FOUND = [
    "UPDATE gpkg_extensions SET extension_name = x''",
    "UPDATE borehole SET y = x''",
    "UPDATE borehole SET x = 'far'",
    "UPDATE borehole SET geom = 1e308",
    "UPDATE run SET run = 9e999",
    "UPDATE site SET value = 1e308",
]
LOOSE = "PRAGMA ignore_check_constraints=ON;"


@pytest.mark.parametrize("statement", FOUND)
def test_a_value_of_another_type_is_a_finding_and_no_traceback(copy, damage, make, statement):
    """Checking finds it; reading and writing work or refuse with what to do."""
    damage(copy.path, LOOSE + statement)
    assert inspect(copy.path)
    attempt(copy.path, Changes("x", derived={"borehole_path": make["paths"]("B1")}))


def test_a_layer_that_no_other_program_opens_is_told(copy, damage, make):
    """The rows are stored, the lists that a GIS needs are gone: the repair repairs it."""
    changes = Changes("x", derived={"borehole_path": make["paths"]("B1", "B2")})
    damage(copy.path, "DROP TABLE gpkg_geometry_columns")
    with pytest.raises(DamagedError, match="repair"):
        Store.open(copy.path).write(changes)
    repair(copy.path)
    assert inspect(copy.path) == []
    assert Store.open(copy.path).write(changes).rows["borehole_path"] == 2


def attempt(path, changes) -> Counter[str]:
    """Read, write and repair; what each came to."""
    done: Counter[str] = Counter()
    works = {
        "read": lambda: Store.open(path).read(),
        "write": lambda: Store.open(path).write(changes),
        "repair": lambda: repair(path),
    }
    for name, work in works.items():
        try:
            work()
            done[name] += 1
        except GeoprofileError as error:
            done[f"{name} refused ({error.exit_code})"] += 1
    return done


def corrupt(sound, place, damage, make, count: int, seed: int) -> Counter[str]:
    """Put values of other types into one to three columns, so many times."""
    chance, done = random.Random(seed), Counter()
    changes = Changes("x", derived={"borehole_path": make["paths"]("B1", "B2")})
    columns = all_columns(sound)
    for number in range(count):
        place.write_bytes(sound.read_bytes())
        picked = [(*chance.choice(columns), chance.choice(VALUES)) for _ in range(3)]
        statements = [f'UPDATE OR IGNORE "{t}" SET "{c}" = {value}' for t, c, value in picked]
        try:
            damage(place, LOOSE + ";".join(statements))
            found = inspect(place)
            assert all(f.what and f.what_to_do for f in found)
            done += attempt(place, changes)
        except Exception as error:
            error.add_note(f"case {number} of seed {seed}: {statements}")
            raise
        for copy in place.parent.glob("*before-repair*"):
            copy.unlink()
    return done


def all_columns(path) -> list[tuple[str, str]]:
    """Every column that may be empty, of every table but the indexes'."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        tables = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'rtree%' "
            "AND name NOT LIKE 'sqlite%'"
        ).fetchall()
        return [
            (table, row[1])
            for (table,) in tables
            for row in connection.execute(f"PRAGMA table_info({table})")
            if not row[3] and row[1] != "fid"  # a NOT NULL column refuses some of the values
        ]


def test_values_of_any_type_anywhere_end_in_no_traceback(sound, tmp_path, damage, make):
    """A few at random."""
    corrupt(sound, tmp_path / "x.gpkg", damage, make, 12, seed=1)


@pytest.mark.calibration
def test_very_many_values_of_any_type_end_in_no_traceback(sound, tmp_path, damage, make):
    """Twenty thousand of them; prints what they came to."""
    print(corrupt(sound, tmp_path / "x.gpkg", damage, make, 20_000, seed=2))
