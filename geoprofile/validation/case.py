"""One entry of the book, and what running it gave."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array: TypeAlias = NDArray[np.float64]
Basis = Literal["seen", "from memory", "derived", "common practice"]
Status = Literal["pass", "known miss", "fail", "not run"]
MOST_DIGITS = 15.0  # of a double
ROUNDING = 1e-9  # [-] of the pass mark itself


@dataclass(frozen=True)
class Second:
    """A route to the same numbers that shares no code with the first.

    Where it is the same formula worked by hand its words say so: that checks the arithmetic alone.

    `values()` gives one number for each of the reference; they agree within `relative`.
    """

    words: str
    values: Callable[[], ArrayLike]
    relative: float


@dataclass(frozen=True)
class Case:
    """A problem whose answer is known from elsewhere.

    `how` says what of the program computes it. `reference` and `found()` are numbers in `unit`;
    each of `found` lies within `relative` of its reference, or within `absolute` of it (one for all
    or one each), or, where `inside` is given, between its two ends (a coverage); `because` says why
    no closer. A reference of 1 without unit may stand for "as asked". A source from memory takes a
    second route, or names in `beside` the case that checks the same numbers. `needs` are
    distributions that do not come with the program. A miss that is known says so in `known_miss`
    and lies within `miss_relative`.
    """

    name: str
    topic: str
    problem: str
    source: str
    basis: Basis
    reference: tuple[float, ...]
    found: Callable[[], ArrayLike]
    unit: str = "1"
    relative: float = 0.0
    absolute: float | tuple[float, ...] = 0.0
    how: str = ""
    because: str = ""
    labels: tuple[str, ...] = ()
    inside: tuple[float, float] | None = None
    second: Second | None = None
    beside: str = ""
    needs: tuple[str, ...] = ()
    known_miss: str = ""
    miss_relative: float = 0.0
    is_slow: bool = False

    @property
    def pass_mark(self) -> str:
        """What is asked, in words."""
        if self.inside is not None:
            return f"{self.inside[0]:g} to {self.inside[1]:g}"
        said = [f"{100 * self.relative:.2g} %"] if self.relative else []
        each = self.absolute if isinstance(self.absolute, tuple) else (self.absolute,)
        unit = f" {self.unit}" if self.unit != "1" else ""
        said += [", ".join(f"{a:.2g}" for a in each) + unit] * any(each)
        return "within " + " or ".join(said) if said else "equal"

    @property
    def missing(self) -> tuple[str, ...]:
        """What it needs and this machine does not have."""
        return tuple(name for name in self.needs if not _is_installed(name))


def _is_installed(name: str) -> bool:
    try:
        version(name)
    except PackageNotFoundError:
        return False
    return True


@dataclass(frozen=True)
class Line:
    """What a case gave: the entry farthest from its reference, the verdict, all that was found."""

    case: Case
    entry: str
    reference: float
    found: float
    digits: float | None
    status: Status
    second: str
    note: str
    seconds: float
    every: tuple[float, ...] = ()


def run_case(case: Case) -> Line:
    """Compute a case and judge it; whatever goes wrong is a failure with its reason.

    Parameters
    ----------
    case : Case
        Of the book.

    Returns
    -------
    Line
        The worst entry; `digits` is -log10 of the largest relative error [-], None for a coverage.
    """
    begun = time.perf_counter()
    reference = np.asarray(case.reference, dtype=float)
    if case.missing:
        what = f"needs {', '.join(case.missing)}, which is not installed"
        return Line(case, "", float(reference[0]), math.nan, None, "not run", "", what, 0.0)
    try:
        found = np.asarray(case.found(), dtype=float).ravel()
        second, agrees = _second(case, reference)
    except Exception as error:  # a wrong constant may break the computation itself
        spent = time.perf_counter() - begun
        what = f"{type(error).__name__}: {error}"
        return Line(case, "", float(reference[0]), math.nan, None, "fail", "", what, spent)
    spent = time.perf_counter() - begun
    if found.shape != reference.shape:
        what = f"{found.size} values for {reference.size} references"
        return Line(case, "", float(reference[0]), math.nan, None, "fail", second, what, spent)
    excess = _excess(case, found, reference)
    worst = int(np.argmax(np.where(np.isfinite(excess), excess, np.inf)))
    status, note = _verdict(case, float(excess[worst]), found, reference)
    if not agrees:
        status, note = "fail", f"{note}; the second route differs".lstrip("; ")
    return Line(
        case,
        case.labels[worst] if case.labels else "",
        float(reference[worst]),
        float(found[worst]),
        None if case.inside else _digits(found, reference),
        status,
        second,
        note,
        spent,
        tuple(float(v) for v in found),
    )


def _second(case: Case, reference: Array) -> tuple[str, bool]:
    if case.second is None:
        return "", True
    other = np.asarray(case.second.values(), dtype=float).ravel()
    apart = float(np.max(np.abs(other - reference) / np.maximum(np.abs(reference), 1e-300)))
    agrees = bool(apart <= case.second.relative)
    return f"{case.second.words}: {apart:.1e} apart at most", agrees


def _excess(case: Case, found: Array, reference: Array) -> Array:
    """How often the allowed distance is used up; above 1 is a miss."""
    if case.inside is not None:
        low, high = case.inside
        return np.abs(found - (low + high) / 2) / ((high - low) / 2)
    allowed = np.maximum(case.relative * np.abs(reference), case.absolute)
    return np.asarray(np.abs(found - reference) / np.maximum(allowed, 1e-300))


def _verdict(case: Case, excess: float, found: Array, reference: Array) -> tuple[Status, str]:
    if excess <= 1.0 + ROUNDING:
        return "pass", "a known miss no more" if case.known_miss else ""
    if not case.known_miss:
        return "fail", ""
    apart = float(np.max(np.abs(found / reference - 1)))
    if apart <= case.miss_relative:
        return "known miss", case.known_miss
    return "fail", f"farther off than the known miss: {case.known_miss}"


def _digits(found: Array, reference: Array) -> float:
    """Log relative error; of a zero reference the log of the error itself."""
    size = np.where(reference == 0, 1.0, np.abs(reference))
    error = float(np.max(np.abs(found - reference) / size))
    return min(MOST_DIGITS, -math.log10(error)) if error > 0 else MOST_DIGITS
