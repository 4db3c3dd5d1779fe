"""What was done to a site file, and what changed in numbers from one run to another."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataError, UsageError
from geoprofile.store import Store

if TYPE_CHECKING:
    from geoprofile.report.key_figures import Figures, Row

RUN_COLUMNS = ("run", "started_at", "duration_s", "command", "version", "computed", "settings")
PRESENT = "the present state"


@dataclass(frozen=True)
class Comparison:
    """What two states are, every figure that differs, and the same in a few lines."""

    before: str
    after: str
    rows: tuple[Row, ...]
    words: tuple[str, ...]


def history(path: Path) -> tuple[list[str], list[tuple[Any, ...]]]:
    """Every command that wrote to a site file.

    Parameters
    ----------
    path : Path
        Site file.

    Returns
    -------
    tuple of list of str and list of tuple
        Names, and a row per run: number, start, duration [s], command, version, layers that were
        computed, settings that differ from their default.
    """
    columns = ["run", "started_at", "ended_at", "command", "version", "settings"]
    rows = []
    for number, start, end, command, version, said in Store.open(path).rows("run", columns):
        settings = json.loads(said or "{}")
        layers = [n for n, v in settings.items() if isinstance(v, dict)]
        told = "; ".join(_unusual(settings))
        rows.append(
            (number, start, _seconds(start, end), command, version, ", ".join(layers), told)
        )
    return list(RUN_COLUMNS), rows


def _seconds(start: str | None, end: str | None) -> float | None:
    if start is None or end is None:
        return None
    return (datetime.fromisoformat(end) - datetime.fromisoformat(start)).total_seconds()


def _unusual(settings: Mapping[str, Any]) -> list[str]:
    """Settings that differ from their default, as one would set them on the command line."""
    from geoprofile.plugins.registry import plugins

    layers = plugins("layers")
    told = [f"{n}={v}" for n, v in settings.items() if not isinstance(v, dict) and v]
    for layer, chosen in settings.items():
        if not isinstance(chosen, dict) or layer not in layers:
            continue
        usual = {s.name: s.default for s in layers[layer].settings}
        told += [
            f"{layer}.{name}={json.dumps(value)}"
            for name, value in chosen.items()
            if name in usual and value != usual[name]
        ]
    return told


def compare(path: Path, first: str | None = None, second: str | None = None) -> Comparison:
    """What changed in numbers between two runs, or two site files.

    Parameters
    ----------
    path : Path
        Site file.
    first : str, optional
        Number of a run, or another site file such as a safety copy; the last but one run when left
        out.
    second : str, optional
        The same; the present state when only `first` is given, else the last run.

    Returns
    -------
    Comparison
        Key figures that differ.

    Raises
    ------
    DataError
        No such run, or too few runs that computed anything.
    """
    from geoprofile.report.key_figures import differences, words

    store = Store.open(path)
    runs = _computing_runs(store)
    if first is None:
        if len(runs) < 2:
            raise DataError(
                path.name,
                f"{len(runs)} run(s) with key figures",
                "two",
                "Run again after a change, or name another site file to compare with.",
            )
        first, second = (str(number) for number in list(runs)[-2:])
    before, old, not_told = _state(store, runs, first)
    after, new, neither = _state(store, runs, second)
    told = (*words(old, new), *dict.fromkeys((*not_told, *neither)))
    return Comparison(before, after, tuple(differences(old, new)), told)


def _computing_runs(store: Store) -> dict[int, tuple[str, Figures]]:
    """Name and figures of each run that computed something, by its number."""
    rows = store.rows("run", ["run", "command", "started_at", "figures"])
    return {
        number: (f"run {number} ({command}, {start})", json.loads(figures))
        for number, command, start, figures in rows
        if figures
    }


def _state(
    store: Store, runs: Mapping[int, tuple[str, Figures]], which: str | None
) -> tuple[str, Figures, list[str]]:
    """Name and figures of a run, of another site file or of this one, and what is not told."""
    from geoprofile.report.key_figures import key_figures

    if which is None:
        return PRESENT, *key_figures(store.read())
    if which.isdigit():
        if int(which) not in runs:
            numbers = ", ".join(map(str, runs)) or "none yet"
            raise DataError(
                f"run {which}",
                "no key figures",
                f"a run that computed something ({numbers})",
                "See 'geoprofile show SITE runs'.",
            )
        return *runs[int(which)], []
    for place in (Path(which), store.path.parent / which):
        if place.is_file():
            other = Store.peek(place)
            found, not_told = key_figures(other.read())
            return place.name, found, [*other.remarks, *not_told]
    raise UsageError(
        which, "neither a run nor a file", "the number of a run, or a site file", "Check it."
    )
