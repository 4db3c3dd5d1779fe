"""A connection to SQLite that fails at a chosen statement."""

from __future__ import annotations

import sqlite3

import pytest

CONNECT = sqlite3.connect


class Failing(sqlite3.Connection):
    """A connection whose `at`-th statement fails; a transaction can always be undone."""

    at, code, count = 0, 0, 0

    def _step(self, sql: str) -> None:
        if sql.lstrip().startswith("ROLLBACK"):
            return
        Failing.count += 1
        if Failing.count == Failing.at:
            error = sqlite3.OperationalError("made to fail")
            error.sqlite_errorcode = Failing.code
            raise error

    def execute(self, sql, *args):
        """One statement."""
        self._step(sql)
        return super().execute(sql, *args)

    def executemany(self, sql, *args):
        """One statement for many rows."""
        self._step(sql)
        return super().executemany(sql, *args)


def fail_at(monkeypatch: pytest.MonkeyPatch, number: int, code: int) -> None:
    """Make the statement of that number fail with that code; 0 only counts them."""
    Failing.at, Failing.code, Failing.count = number, code, 0
    monkeypatch.setattr(
        sqlite3, "connect", lambda *a, **k: CONNECT(*a, **{**k, "factory": Failing})
    )
