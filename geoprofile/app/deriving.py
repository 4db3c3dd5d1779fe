"""Computes what is stale and stores it in one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.app.loading import now
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import DataError
from geoprofile.plugins import Layer
from geoprofile.report.key_figures import key_figures
from geoprofile.schema import INPUT
from geoprofile.store import Changes, Store

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
    done, site = derive_in(store, targets, overrides or {}, command, again, announce)
    return done, site


def derive_in(
    store: Store,
    targets: Sequence[str] | None,
    overrides: Mapping[str, str],
    command: str,
    again: bool,
    announce: Announce,
) -> tuple[Outcome, Site]:
    """Compute the stale layers among the targets and what they rest on, and store them."""
    from geoprofile import engine
    from geoprofile.plugins.registry import offered_by_all, plugins

    started = now()
    layers: Mapping[str, Layer] = plugins("layers")
    engine.check_overrides(overrides, layers)
    ordered = engine.in_order(layers)
    site = store.read()
    settings = {
        layer.name: engine.chosen_settings(layer, site.settings_of(layer.name), overrides)
        for layer in ordered
    }
    contents = store.fingerprints([t.name for t in INPUT])
    prints = engine.fingerprints(ordered, settings, contents.__getitem__)
    done = {} if again else dict(store.rows("step", ["step", "fingerprint"]))
    wanted = engine.needed(ordered, targets)
    stale = [x for x in ordered if x.name in wanted and done.get(x.name) != prints[x.name]]
    if not stale:
        return Outcome(store.path, {}, remarks=store.remarks), site
    if site.boreholes.empty:
        raise DataError(
            str(store.path),
            "no boreholes",
            "at least one",
            "Load the boreholes and intervals first.",
        )
    derived, after = engine.compute(site, stale, settings, announce)
    kept: dict[str, pd.DataFrame] = {}
    for to_keep in offered_by_all("to_keep"):
        kept |= to_keep(site, after, derived)
    report = store.write(
        Changes(
            command=command,
            settings={x.name: settings[x.name] for x in stale},
            inputs={},
            figures=key_figures(after),
            started_at=started,
            upserts=kept,
            derived=derived,
            steps={x.name: prints[x.name] for x in stale},
        )
    )
    remarks = (*store.remarks, *report.remarks)
    if kept:
        stored = store.read(list(kept))
        after = after.with_tables({name: stored.table(name) for name in kept})
    return Outcome(store.path, {}, tuple(x.name for x in stale), remarks=remarks), after
