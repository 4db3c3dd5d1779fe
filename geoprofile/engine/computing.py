"""Computes stale layers: one after the other, or side by side where they wait for no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from geoprofile.errors import UsageError
from geoprofile.plugins import Layer, Progress, no_progress
from geoprofile.schema import TABLES
from geoprofile.threads import give_back, one_thread_each
from geoprofile.workers import each, has_workers

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Announce = Callable[[str], Progress]
Made = Mapping[str, Any]  # tables of a layer
Computed = dict[str, Made]  # by the layer's fingerprint
LONG = "model"  # what reads this table maps a field, which takes a while


def compute(
    site: Site,
    stale: Sequence[Layer],
    settings: Mapping[str, Mapping[str, Any]],
    announce: Announce = lambda name: no_progress,
    prints: Mapping[str, str] | None = None,
    computed: Computed | None = None,
) -> tuple[dict[str, pd.DataFrame], Site]:
    """Compute the stale layers, each on what the ones before have made.

    Parameters
    ----------
    site : Site
        As stored.
    stale : Sequence of Layer
        In their order.
    settings : Mapping
        Settings by layer.
    announce : callable
        Gives the progress for a layer by its name.
    prints : Mapping, optional
        Fingerprints by layer, as from `fingerprints`.
    computed : dict, optional
        What an earlier try has computed, not computed again; what is computed now is added.

    Returns
    -------
    tuple of dict and Site
        The derived tables, `finding` among them, and the site with them.
    """
    import pandas as pd

    prints = {layer.name: layer.name for layer in stale} | dict(prints or {})
    computed = {} if computed is None else computed
    derived: dict[str, pd.DataFrame] = {}
    old = site.table("finding")
    names = {layer.name for layer in stale}
    findings = [old[~old["step"].isin(names)].drop(columns="run", errors="ignore")]
    for group in _side_by_side(stale):
        missing = [layer for layer in group if prints[layer.name] not in computed]
        if len(missing) > 1 and has_workers():
            for name, tables in _shared_out(site, missing, settings, announce):
                computed[prints[name]] = tables
        for layer in group:
            key = prints[layer.name]
            if key not in computed:
                with one_thread_each():  # the same bits whatever else the machine does
                    chosen = settings[layer.name]
                    computed[key] = layer.compute(site, chosen, announce(layer.name))
            give_back()
            made = dict(computed[key])
            extra = made.pop("finding", None)
            if extra is not None and len(extra):
                findings.append(extra.assign(step=layer.name))
            _check_tables(layer, made)
            derived.update(made)
            site = site.with_tables(made).made_with(layer.name, settings[layer.name])
    kept = [f for f in findings if len(f)]
    derived["finding"] = pd.concat(kept, ignore_index=True) if kept else findings[0]
    return derived, site.with_tables({"finding": derived["finding"]})


def _side_by_side(stale: Sequence[Layer]) -> Iterator[list[Layer]]:
    """The layers in groups, one after the other: in a group none waits for another."""
    group: list[Layer] = []
    for layer in stale:
        written = {table for other in group for table in other.writes}
        alone = LONG not in layer.reads or any(LONG not in other.reads for other in group)
        if group and (alone or not written.isdisjoint(layer.reads)):
            yield group
            group = []
        group = [*group, layer]
    if group:
        yield group


def _shared_out(
    site: Site,
    layers: Sequence[Layer],
    settings: Mapping[str, Mapping[str, Any]],
    announce: Announce,
) -> Iterator[tuple[str, Made]]:
    """The tables of each layer, by its name, computed here or by a worker."""
    by_name = {layer.name: layer for layer in layers}
    here: set[str] = set()

    def compute_here(name: str) -> Made:
        here.add(name)
        with one_thread_each():
            return by_name[name].compute(site, settings[name], announce(name))

    common = site, {name: settings[name] for name in by_name}
    for name, made in zip(
        by_name, each(made_by, common, list(by_name), here=compute_here), strict=True
    ):
        if name not in here:
            announce(name)(1, 1)
        yield name, made


def made_by(common: tuple[Site, Mapping[str, Any]], name: str) -> Made:
    """The tables of a layer, computed in a worker.

    Parameters
    ----------
    common : tuple of Site and Mapping
        The site, and the settings by layer.
    name : str
        Of the layer.

    Returns
    -------
    Mapping
        As the layer gives them.
    """
    from geoprofile.plugins.registry import plugins

    site, settings = common
    layer: Layer = plugins("layers")[name]
    return layer.compute(site, settings[name], no_progress)


def _check_tables(layer: Layer, made: Mapping[str, pd.DataFrame]) -> None:
    """A layer must give all its tables and no others, with the schema's columns."""
    if set(made) != set(layer.writes):
        raise UsageError(
            f"layer {layer.name}",
            f"tables {sorted(made)}",
            f"tables {sorted(layer.writes)}",
            "Correct the layer.",
        )
    for name, table in made.items():
        missing = {c.name for c in TABLES[name].columns} - {"run"} - set(table.columns)
        if missing:
            raise UsageError(
                f"layer {layer.name}, table {name}",
                f"no column {', '.join(sorted(missing))}",
                "every column of the schema",
                "Correct the layer.",
            )
