"""Older files are brought up to date after a safety copy, all steps or none."""

from __future__ import annotations

import pytest

from geoprofile.errors import DamagedError
from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store import Store, inspect, migrate


def test_a_current_file_is_left_alone(filled):
    """Nothing to do, no copy made."""
    assert migrate(filled.path) is None
    assert list(filled.path.parent.iterdir()) == [filled.path]


def test_steps_run_in_order_after_a_safety_copy(filled, edit):
    """Each step sees the work of the one before; the copy holds the old state."""
    edit(filled, f"UPDATE site SET value = '{SCHEMA_VERSION - 2}' WHERE name = 'schema_version'")
    steps = {
        SCHEMA_VERSION - 2: lambda c: c.execute("ALTER TABLE borehole ADD COLUMN added_a TEXT"),
        SCHEMA_VERSION - 1: lambda c: c.execute("UPDATE borehole SET added_a = 'filled'"),
    }
    copy = migrate(filled.path, steps=steps)
    assert set(Store.open(filled.path).read().boreholes["added_a"]) == {"filled"}
    assert {f.code for f in inspect(copy)} == {"layout"}
    assert inspect(filled.path) == []


def test_a_failing_step_changes_nothing(filled, edit):
    """The file is as it was."""
    edit(filled, f"UPDATE site SET value = '{SCHEMA_VERSION - 1}' WHERE name = 'schema_version'")
    before = filled.path.read_bytes()

    def fail(connection):
        connection.execute("DELETE FROM reading")
        raise RuntimeError("made to fail")

    with pytest.raises(RuntimeError):
        migrate(filled.path, steps={SCHEMA_VERSION - 1: fail})
    assert filled.path.read_bytes() == before


@pytest.mark.parametrize("version", ["0", "99", '"x"'])
def test_a_file_without_a_way_is_refused(filled, edit, version):
    """Missing steps, newer files and nonsense are told."""
    edit(filled, f"UPDATE site SET value = '{version}' WHERE name = 'schema_version'")
    with pytest.raises(DamagedError):
        migrate(filled.path)
