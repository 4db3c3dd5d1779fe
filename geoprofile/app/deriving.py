"""Computes what is stale and stores it in one transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.app.moments import now
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import DataError, not_drawn
from geoprofile.plugins import Layer
from geoprofile.schema import INPUT
from geoprofile.schema.system import FORECAST
from geoprofile.store import Changes, Marks, Store, until_unchanged

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.engine.computing import Announce, Computed
    from geoprofile.site import Site

OUTPUT = "out"  # folder for figures, beside the database
STATE = "last_run.json"  # in the output folder: what the last run saw, wrote and said


@dataclass(frozen=True)
class Asked:
    """What a command asks to be computed.

    `targets` are names of layers, None for all; `overrides` a text per "layer.setting"; with
    `again` what is fresh is computed too.
    """

    command: str  # for the record of runs
    targets: Sequence[str] | None = None
    overrides: Mapping[str, str] = field(default_factory=dict)
    again: bool = False


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
    from geoprofile.remembered import remembering

    asked = Asked(command, targets, overrides or {}, again)
    once = partial(derive_once, Store.open(path), asked, announce, {})
    with remembering(path.parent / OUTPUT, again=again):
        done, site, _ = until_unchanged(once)
    return done, site


def derive_once(
    store: Store,
    asked: Asked,
    announce: Announce,
    computed: Computed,
    tell: Callable[[Site], None] = lambda site: None,
) -> tuple[Outcome, Site, Marks]:
    """Compute the stale layers among the targets and what they rest on, and store them.

    ChangedError where another program has changed their input meanwhile; what is `computed` so far
    serves the next try. The marks are those of what was computed, whatever is saved later. `tell`
    is told of the computed site, which counts for nothing unless it is stored.
    """
    from geoprofile import engine
    from geoprofile.engine.computing import compute
    from geoprofile.engine.given import kept_in_words, kept_overrides, with_given
    from geoprofile.plugins.registry import plugins
    from geoprofile.report.key_figures import key_figures

    targets, overrides = asked.targets, asked.overrides
    layers: Mapping[str, Layer] = plugins("layers")
    engine.check_overrides(overrides, layers)
    ordered = engine.in_order(layers)
    wanted = engine.needed(ordered, targets)
    engine.check_reached(overrides, wanted, asked.command)
    started = now()
    site, marks = store.snapshot()
    used = {layer: said for layer, said in site.used.items() if layer in wanted}
    kept_given = kept_overrides(used, engine.setting_names(layers), targets, overrides)
    remarks = (*store.remarks, *kept_in_words(kept_given, overrides))
    settings = {
        layer.name: engine.chosen_settings(layer, site.settings_of(layer.name), kept_given)
        for layer in ordered
    }
    prints = engine.fingerprints(ordered, settings, marks.tables.__getitem__)
    done = {} if asked.again else marks.steps
    stale = [x for x in ordered if x.name in wanted and done.get(x.name) != prints[x.name]]
    if not stale:
        return Outcome(store.path, {}, remarks=remarks), site, marks
    if site.boreholes.empty:
        raise DataError(
            str(store.path),
            "no boreholes",
            "at least one",
            "Load the boreholes and intervals first.",
        )
    derived, after = compute(site, stale, settings, announce, prints, computed)
    names = [x.name for x in stale]
    found = derived.pop("finding")
    tell(after)
    kept, not_kept = _to_keep(site, after, derived)
    figures, not_told = key_figures(after)
    report = store.write(
        Changes(
            command=asked.command,
            settings=with_given(settings, names, targets, overrides, kept_given),
            inputs={},
            figures=figures,
            started_at=started,
            upserts=kept,
            derived=derived,
            steps={x: prints[x] for x in names},
            findings=found[found["step"].isin(names)].drop(columns="run", errors="ignore"),
            steps_that_found=names,
            seen=_rests_on(marks, ordered, wanted, names, kept),
        )
    )
    remarks = (*remarks, *report.remarks, *not_kept, *not_told)
    told = store.read(["finding", *kept])
    after = after.with_tables({t: told.table(t) for t in ("finding", *kept)})
    known = replace(marks, steps={**report.marks.steps, **prints}, tables=report.marks.tables)
    return Outcome(store.path, {}, tuple(names), remarks=remarks), after, known


def _to_keep(
    before: Site, after: Site, derived: Mapping[str, pd.DataFrame]
) -> tuple[dict[str, pd.DataFrame], list[str]]:
    """Rows that outlive the next run, by table, and a line for each product that gives none."""
    import pandas as pd

    from geoprofile.plugins.registry import asked_of_all

    kept: dict[str, pd.DataFrame] = {}
    failed: list[str] = []
    for product, answer in asked_of_all("to_keep", before, after, derived):
        try:
            if isinstance(answer, Exception):
                raise answer
            for table, rows in [(table, _fitting(table, rows)) for table, rows in answer]:
                kept[table] = pd.concat([kept[table], rows]) if table in kept else rows
        except Exception as error:  # of a package from anywhere
            failed.append(not_drawn(f"forecasts of {product}", error, "Not kept"))
    return kept, failed


def _fitting(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows for the one table that products may add to and that no run empties."""
    if table != FORECAST.name or {c.name for c in FORECAST.columns} - set(rows.columns):
        raise DataError(
            f"table {table}",
            f"columns {', '.join(map(str, rows.columns))}",
            f"rows of {FORECAST.name}, with its columns",
            "Correct or uninstall the package of the product.",
        )
    return rows


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
