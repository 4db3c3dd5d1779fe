"""Runs the book: every case of every family, in the order of the topics."""

from __future__ import annotations

import importlib
import pkgutil
import platform
import re
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from threadpoolctl import threadpool_info

from geoprofile import __version__
from geoprofile.plugins import Progress, no_progress
from geoprofile.validation.case import Case, Line, run_case
from geoprofile.validation.topics import TOPICS

PEERS = ("pykrige", "gstools", "scikit-gstat", "mpmath")


def cases() -> tuple[Case, ...]:
    """All cases, by topic and within a topic by family.

    Raises
    ------
    ValueError
        Two cases of one name, or a topic that is not there.
    """
    folder = str(Path(__file__).parent / "cases")
    found: list[Case] = []
    for module in sorted(m.name for m in pkgutil.iter_modules([folder])):
        family = importlib.import_module(f"geoprofile.validation.cases.{module}")
        found += getattr(family, "CASES", ())
    names = [c.name for c in found]
    if len(set(names)) < len(names) or {c.topic for c in found} - set(TOPICS):
        raise ValueError("a name stands for two cases, or a topic is unknown")
    order = list(TOPICS)
    return tuple(sorted(found, key=lambda c: order.index(c.topic)))


def run_book(
    *, slow: bool = False, topic: str | None = None, progress: Progress = no_progress
) -> tuple[Line, ...]:
    """Run the quick half of the book, or all of it.

    Parameters
    ----------
    slow : bool
        The slow half, too.
    topic : str, optional
        One topic alone.
    progress : Progress
        Told after every case.

    Returns
    -------
    tuple of Line
        In the order of the topics.
    """
    chosen = [c for c in cases() if (slow or not c.is_slow) and topic in (None, c.topic)]
    return tuple(_run(chosen, progress))


def _run(chosen: list[Case], progress: Progress) -> Iterator[Line]:
    for done, case in enumerate(chosen):
        progress(done, len(chosen))
        yield run_case(case)
    progress(len(chosen), len(chosen))


def versions() -> dict[str, str]:
    """Versions of the program, its libraries and the machine."""
    found = {
        "geoprofile": __version__,
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
    }
    for name in (*_libraries(), *PEERS):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    for pool in threadpool_info():
        found.setdefault(f"{pool['internal_api']} ({pool['user_api']})", pool["version"] or "")
    return found


def _libraries() -> list[str]:
    """What the program needs, as its own distribution says; without its optional parts."""
    try:
        needs = requires("geoprofile") or []
    except PackageNotFoundError:  # run from its sources, not installed
        return []
    return [re.split(r"[^\w.-]", text)[0] for text in needs if "extra ==" not in text]
