"""What goes wrong, told in four parts: where, what was found, what is allowed, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Problem:
    """One fault in the user's data, with everything needed to repair it."""

    where: str
    found: str
    expected: str
    advice: str

    def __str__(self) -> str:
        """`<where>: found <what>, expected <rule>. <what to do>.`"""
        return f"{self.where}: found {self.found}, expected {self.expected}. {self.advice}"


class GeoprofileError(Exception):
    """Base of every error that geoprofile raises on purpose; `exit_code` is the command's exit."""

    exit_code = 1

    def __init__(self, where: str, found: str, expected: str, advice: str) -> None:
        """Keep the four parts as one problem."""
        self.problems: tuple[Problem, ...] = (Problem(where, found, expected, advice),)
        super().__init__(str(self.problems[0]))

    @property
    def problem(self) -> Problem:
        """The first problem."""
        return self.problems[0]

    def __reduce__(self) -> tuple[Any, ...]:
        """How it goes from one process to another."""
        return _as_told, (type(self), self.problems)


def _as_told(kind: type[GeoprofileError], problems: tuple[Problem, ...]) -> GeoprofileError:
    """An error of another process."""
    error = kind.__new__(kind)
    error.problems = problems
    Exception.__init__(error, "\n".join(map(str, problems)))
    return error


class DataError(GeoprofileError):
    """The data do not allow what was asked (exit 1)."""


class DataErrors(DataError):  # noqa: N818  several of them
    """Several faults found in one go; nothing was stored (exit 1)."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Take every problem found, in the order of the files."""
        self.problems = tuple(problems)
        Exception.__init__(self, "\n".join(str(p) for p in self.problems))


class UsageError(GeoprofileError):
    """The command was called in a way it does not understand (exit 2)."""

    exit_code = 2


class BusyError(GeoprofileError):
    """Another program is writing the site file; nothing was changed (exit 3)."""

    exit_code = 3


class ChangedError(BusyError):
    """What a command had read was changed by another program before it wrote (exit 3)."""


class DiskError(GeoprofileError):
    """The disk is full or does not allow writing; nothing was changed (exit 4)."""

    exit_code = 4


class DamagedError(GeoprofileError):
    """The site file is damaged or is no site file (exit 5)."""

    exit_code = 5


def not_drawn(what: str, error: Exception, verdict: str = "Not drawn") -> str:
    """The line that tells of a figure, or of words, that could not be made.

    Parameters
    ----------
    what : str
        The figure.
    error : Exception
        What stopped it; one of our own speaks for itself.
    verdict : str
        How the line begins.

    Returns
    -------
    str
        One line.
    """
    if isinstance(error, DataError):
        return f"{verdict}: {what} ({error.problem})"
    words = " ".join(str(error).split())[:160]
    return (
        f"{verdict}: {what} (an error of the program, {type(error).__name__}: {words}). "
        "The numbers do not depend on it; please report it."
    )
