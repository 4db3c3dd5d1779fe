"""Puts faults of many rows into problems: one per row, with a bound on how many are told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from geoprofile.errors import Problem

MOST = 100  # problems told one by one per file, column and kind of fault


def place(source: str, row: int, column: str = "") -> str:
    """How a message names a row, and a column of it."""
    return f"{source} row {row}, column {column}" if column else f"{source} row {row}"


def tell(
    problems: list[Problem],
    rows: Sequence[int],
    where: Callable[[int], str],
    what: Callable[[int], tuple[str, str, str]],
) -> None:
    """Add a problem for each of `rows`; past `MOST` only their number is told.

    `where` and `what` take an element of `rows`; `what` gives found, expected and advice.
    """
    for row in rows[:MOST]:
        problems.append(Problem(where(row), *what(row)))
    if len(rows) > MOST:
        _, expected, advice = what(rows[MOST])
        problems.append(
            Problem(
                f"{where(rows[MOST])} and after",
                f"{len(rows) - MOST} more rows with the same fault",
                expected,
                advice,
            )
        )


def shown(text: object) -> str:
    """A value as it goes into a message: quoted, on one line, cut when long."""
    plain = " ".join(str(text).split())
    return f"'{plain[:40]}...'" if len(plain) > 43 else f"'{plain}'"


def listed(items: Iterable[str], most: int = 6) -> str:
    """Names in a row, cut when there are many."""
    names = list(items)
    more = f", ... ({len(names)} in all)" if len(names) > most else ""
    return ", ".join(names[:most]) + more
