"""What a command would compute, and why, without doing it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import intake
from geoprofile.app.deriving import OUTPUT, STATE
from geoprofile.app.durations import (
    FIGURES,
    FIRST,
    LATER,
    LOAD,
    expected_s,
    measured_of,
    said_of,
    stored,
)
from geoprofile.remembered import NAME
from geoprofile.store import Marks, Store

if TYPE_CHECKING:
    from geoprofile.plugins import Layer

COLUMNS = ("layer", "why", "tables")
Stale = tuple[str, str, str]
EDITED = "edited"  # stands for the content of a table that is to be loaded again


def stale(
    path: Path, targets: Sequence[str] | None, overrides: Mapping[str, str], *, again: bool = False
) -> list[Stale]:
    """The layers that a command would compute, why, and the tables they write.

    Parameters
    ----------
    path : Path
        Site file.
    targets : Sequence of str or None
        Layers asked for; None for all.
    overrides : Mapping
        A value per "layer.setting".
    again : bool
        Whether all would be computed in any case.

    Returns
    -------
    list of tuple of str
        In the order of the work.
    """
    store = Store.open(path)
    return _stale_of(store.marks(), store.settings(), _used(store), targets, overrides, (), again)


def stale_of_folder(
    folder: Path, overrides: Mapping[str, str], *, again: bool = False
) -> tuple[list[Stale], list[str]]:
    """What a run of a folder would compute, and the files that it would load.

    Parameters
    ----------
    folder : Path
        Site folder.
    overrides : Mapping
        A value per "layer.setting".
    again : bool
        Whether all would be computed in any case.

    Returns
    -------
    tuple of list and list of str
        As `stale`; files by name.
    """
    settings = intake.read_settings(folder)
    files = intake.find_files(folder, settings=settings)
    database = folder / settings.database
    if not database.exists():
        told = _stale_of(Marks(), dict(settings.settings), {}, None, overrides, (), again)
        return told, [str(f.name) for f in files]
    store = Store.open(database)
    known = dict(store.rows("source_file", ["source_file", "fingerprint"]))
    changed = [f for f in files if known.get(f.name) != f.sha256]
    values = store.settings() | dict(settings.settings)
    tables = tuple(str(f.table) for f in changed)
    told = _stale_of(store.marks(), values, _used(store), None, overrides, tables, again)
    return told, [str(f.name) for f in changed]


def expected_of_folder(
    folder: Path, layers: Sequence[Stale], files: Sequence[str], *, again: bool = False
) -> dict[str, float]:
    """How long each step of a run will take, from earlier runs or by the size of the site.

    Parameters
    ----------
    folder : Path
        Site folder.
    layers, files : Sequence
        As `stale_of_folder` gives them.
    again : bool
        Whether all would be computed in any case.

    Returns
    -------
    dict
        Seconds by step, in the order of the work; empty where there is nothing to do.
    """
    if not layers and not files:
        return {}
    settings = intake.read_settings(folder)
    output = (folder / settings.database).parent / OUTPUT
    kind = LATER if (output / NAME).exists() and not again else FIRST
    measured = measured_of(said_of(stored(output / STATE)), kind)
    tests = [f for f in intake.find_files(folder, settings=settings) if f.table == "test"]
    count = sum(f.path.read_bytes().count(b"\n") for f in tests)
    names = [LOAD, *(name for name, *_ in layers), FIGURES]
    return expected_s(names, measured, tests=count)


def _used(store: Store) -> dict[str, str]:
    return {str(s): str(v) for s, v in store.rows("step", ["step", "settings"]) if v}


def _stale_of(
    marks: Marks,
    values: Mapping[str, Any],
    used: Mapping[str, str],
    targets: Sequence[str] | None,
    overrides: Mapping[str, str],
    edited: Sequence[str],
    again: bool,
) -> list[Stale]:
    import json

    from geoprofile import engine
    from geoprofile.engine.given import kept_overrides
    from geoprofile.plugins.registry import plugins

    layers = plugins("layers")
    engine.check_overrides(overrides, layers)
    ordered = engine.in_order(layers)
    made_with = {layer: json.loads(text) for layer, text in used.items()}
    given_before = kept_overrides(made_with, engine.setting_names(layers), targets, overrides)
    chosen = {}
    for layer in ordered:
        own = values.get(layer.name)
        given = own if isinstance(own, Mapping) else {}
        chosen[layer.name] = engine.chosen_settings(layer, given, given_before)

    def print_of(table: str) -> str:
        return EDITED if table in edited else marks.tables.get(table, "")

    prints = engine.fingerprints(ordered, chosen, print_of)
    wanted = engine.needed(ordered, targets)
    old = [
        x
        for x in ordered
        if x.name in wanted and (again or marks.steps.get(x.name) != prints[x.name])
    ]
    names = {x.name for x in old}
    return [
        (x.name, _why(x, names, ordered, marks, chosen[x.name], used), ", ".join(x.writes))
        for x in old
    ]


def _why(
    layer: Layer,
    stale_names: set[str],
    ordered: Sequence[Layer],
    marks: Marks,
    chosen: Mapping[str, Any],
    used: Mapping[str, str],
) -> str:
    """The reason that lies nearest."""
    import json

    from geoprofile.engine.given import GIVEN

    if layer.name not in marks.steps:
        return "not yet computed"
    if layer.name in used:
        before = {n: v for n, v in json.loads(used[layer.name]).items() if n != GIVEN}
        if before != json.loads(json.dumps(chosen)):
            return "other settings"
    writer = {t: x.name for x in ordered for t in x.writes}
    under = {writer[t] for t in layer.reads if t in writer} & stale_names - {layer.name}
    if under:
        return f"rests on {', '.join(sorted(under))}"
    return "its input or the program has changed"
