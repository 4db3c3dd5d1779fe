"""Computes what is stale and stores it in one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.app.moments import now
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import DataError
from geoprofile.plugins import Layer
from geoprofile.remembered import remembering
from geoprofile.report.key_figures import key_figures
from geoprofile.schema import INPUT
from geoprofile.store import Changes, Marks, Store, until_unchanged

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.engine import Announce
    from geoprofile.site import Site


def derive(
    path: Path,
    targets: Sequence[str],
    *,
    command: str,
    overrides: Mapping[str, str] | None = None,
    again: bool = False,
    announce: Announce = silent,
) -> tuple[Outcome, Site]:
    """Compute some layers, and what they rest on, where they are stale.

    Parameters
    ----------
    path : Path
        Site file.
    targets : Sequence of str
        Names of layers.
    command : str
        For the record of runs.
    overrides, again, announce
        As for `run`.

    Returns
    -------
    tuple of Outcome and Site
        What was computed, and the site with it.
    """
    store = Store.open(path)
    done, site, _ = derive_in(store, targets, overrides or {}, command, again, announce)
    return done, site


def derive_in(
    store: Store,
    targets: Sequence[str] | None,
    overrides: Mapping[str, str],
    command: str,
    again: bool,
    announce: Announce,
) -> tuple[Outcome, Site, Marks]:
    """Compute the stale layers among the targets and what they rest on, and store them.

    What another program saves meanwhile is computed with. The marks are those of what was computed,
    whatever has been saved since.
    """
    from geoprofile import engine
    from geoprofile.plugins.registry import plugins

    layers: Mapping[str, Layer] = plugins("layers")
    engine.check_overrides(overrides, layers)
    ordered = engine.in_order(layers)
    engine.check_reached(overrides, engine.needed(ordered, targets), command)
    made: Made = {}

    def once() -> tuple[Outcome, Site, Marks]:
        return _derive_once(store, ordered, targets, overrides, command, again, announce, made)

    with remembering(store.path.parent / OUTPUT, again=again):
        return until_unchanged(once)


OUTPUT = "out"  # folder for figures, beside the database
STATE = "last_run.json"  # in the output folder: what the last run saw, wrote and said
# by layer: what it was computed from, and its tables, kept for another try
Made = dict[str, tuple[str, Mapping[str, Any]]]


def _derive_once(
    store: Store,
    ordered: Sequence[Layer],
    targets: Sequence[str] | None,
    overrides: Mapping[str, str],
    command: str,
    again: bool,
    announce: Announce,
    made: Made,
) -> tuple[Outcome, Site, Marks]:
    from geoprofile import engine
    from geoprofile.plugins.registry import offered_by_all

    started = now()
    site, marks = store.snapshot()
    settings = {
        layer.name: engine.chosen_settings(layer, site.settings_of(layer.name), overrides)
        for layer in ordered
    }
    prints = engine.fingerprints(ordered, settings, marks.tables.__getitem__)
    done = {} if again else marks.steps
    wanted = engine.needed(ordered, targets)
    stale = [x for x in ordered if x.name in wanted and done.get(x.name) != prints[x.name]]
    if not stale:
        return Outcome(store.path, {}, remarks=store.remarks), site, marks
    if site.boreholes.empty:
        raise DataError(
            str(store.path),
            "no boreholes",
            "at least one",
            "Load the boreholes and intervals first.",
        )
    once_each = [_remembering(layer, prints[layer.name], made) for layer in stale]
    derived, after = engine.compute(site, once_each, settings, announce)
    names = [x.name for x in stale]
    found = derived.pop("finding")
    kept: dict[str, pd.DataFrame] = {}
    for to_keep in offered_by_all("to_keep"):
        kept |= to_keep(site, after, derived)
    report = store.write(
        Changes(
            command=command,
            settings={x: settings[x] for x in names},
            inputs={},
            figures=key_figures(after),
            started_at=started,
            upserts=kept,
            derived=derived,
            steps={x: prints[x] for x in names},
            findings=found[found["step"].isin(names)].drop(columns="run", errors="ignore"),
            steps_that_found=names,
            seen=_rests_on(marks, ordered, wanted, names, kept),
        )
    )
    remarks = (*store.remarks, *report.remarks)
    told = store.read(["finding", *kept])
    after = after.with_tables({t: told.table(t) for t in ("finding", *kept)})
    known = replace(marks, steps={**report.marks.steps, **prints}, tables=report.marks.tables)
    return Outcome(store.path, {}, tuple(names), remarks=remarks), after, known


def _remembering(layer: Layer, fingerprint: str, made: Made) -> Layer:
    """The layer, which is not computed twice from the same."""

    def compute(site: Any, settings: Any, progress: Any) -> Mapping[str, Any]:
        known = made.get(layer.name)
        if known is None or known[0] != fingerprint:
            known = made[layer.name] = fingerprint, layer.compute(site, settings, progress)
        return known[1]

    return replace(layer, compute=compute)


def _rests_on(
    marks: Marks,
    ordered: Sequence[Layer],
    wanted: set[str],
    computed: Sequence[str],
    kept: Mapping[str, Any],
) -> Marks:
    """What the computed layers depend on: input tables, and layers before them as stored."""
    read = {table for layer in ordered if layer.name in wanted for table in layer.reads}
    fields = [t.name for t in INPUT if t.name in read]
    return marks.only([*fields, *kept], wanted - set(computed))
