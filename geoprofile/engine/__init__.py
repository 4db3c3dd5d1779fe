"""Orders the layers by what they read and write, and computes only those that are stale."""

from __future__ import annotations

import difflib
import hashlib
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from geoprofile import __version__
from geoprofile.errors import UsageError
from geoprofile.plugins import Layer, Setting

if TYPE_CHECKING:
    from geoprofile.site import Site

MOST_SHOWN = 80  # characters of a wrong value
FARTHEST = 1e9  # beyond any length, count or seed that a site needs, in whatever unit


def in_order(layers: Mapping[str, Layer]) -> tuple[Layer, ...]:
    """The layers, each after all those that write what it reads.

    Raises
    ------
    UsageError
        Layers that wait for each other, or two that write the same table.
    """
    writer = _writers(layers)
    done: dict[str, Layer] = {}
    while len(done) < len(layers):
        ready = [
            name
            for name, layer in sorted(layers.items())
            if name not in done and all(_made(t, name, writer, done) for t in layer.reads)
        ]
        if not ready:
            left = ", ".join(sorted(set(layers) - set(done)))
            raise UsageError(
                "layers", f"a circle among {left}", "no circle", "Correct what they read."
            )
        done.update({name: layers[name] for name in ready})
    return tuple(done.values())


def _writers(layers: Mapping[str, Layer]) -> dict[str, str]:
    writer: dict[str, str] = {}
    for name, layer in sorted(layers.items()):
        for table in layer.writes:
            if table in writer:
                raise UsageError(
                    f"layer {name}",
                    f"table {table}, which {writer[table]} writes too",
                    "one layer for each table",
                    "Uninstall one of them.",
                )
            writer[table] = name
    return writer


def _made(table: str, reader: str, writer: Mapping[str, str], done: Mapping[str, Layer]) -> bool:
    """Whether nothing that is still to come writes the table."""
    return table not in writer or writer[table] == reader or writer[table] in done


def chosen_settings(
    layer: Layer, site_settings: Mapping[str, Any], overrides: Mapping[str, Any]
) -> dict[str, Any]:
    """The settings of a layer: its defaults, then site.toml, then the command line, all checked.

    Parameters
    ----------
    layer : Layer
        With its settings and their limits.
    site_settings : Mapping
        What site.toml says under the layer's name.
    overrides : Mapping
        What the command line says: a text per "layer.setting".

    Returns
    -------
    dict
        A value for every setting of the layer.

    Raises
    ------
    UsageError
        A setting that the layer does not have, or a value that it does not allow.
    """
    known = {s.name: s for s in layer.settings}
    chosen = {s.name: s.default for s in layer.settings}
    for name, value in site_settings.items():
        part = f"site.toml [{layer.name}]"
        chosen[name] = _checked(_known(name, known, part), value, f"{part} {name}")
    for full, value in overrides.items():
        owner, _, name = full.partition(".")
        if owner == layer.name:
            setting = _known(name, known, f"--set {full}")
            chosen[name] = _checked(setting, _parsed(value), f"--set {full}")
    return chosen


def setting_names(layers: Mapping[str, Layer]) -> dict[str, tuple[str, ...]]:
    """Names of the settings of each layer."""
    return {name: tuple(s.name for s in layer.settings) for name, layer in layers.items()}


def settings_used(site: Site, layer: str) -> Mapping[str, Any]:
    """The settings by which a layer's tables were made; for what is not yet made, those chosen."""
    from geoprofile.plugins.registry import plugins

    declared: Layer = plugins("layers")[layer]
    if layer not in site.used:
        return chosen_settings(declared, site.settings_of(layer), {})
    return {s.name: s.default for s in declared.settings} | dict(site.used[layer])


def check_overrides(overrides: Mapping[str, Any], layers: Mapping[str, Layer]) -> None:
    """Refuse an override that names no layer.

    Parameters
    ----------
    overrides : Mapping
        A value per "layer.setting".
    layers : Mapping
        Layers by name.

    Raises
    ------
    UsageError
        With the names there are.
    """
    for full in overrides:
        owner, dot, _ = full.partition(".")
        if not dot or owner not in layers:
            raise UsageError(
                f"--set {full}",
                f"'{owner}'",
                f"LAYER.SETTING=VALUE with a layer of {', '.join(layers)}",
                "See `geoprofile plugins`.",
            )


def check_reached(overrides: Mapping[str, Any], wanted: Collection[str], command: str) -> None:
    """Refuse an override of a layer that the command does not compute: it would do nothing."""
    for full in overrides:
        owner = full.partition(".")[0]
        if owner not in wanted:
            raise UsageError(
                f"--set {full}",
                f"'{owner}', which the command {command} does not compute",
                f"a setting of {', '.join(sorted(wanted))}",
                "Give it to the command that computes it, to `run`, or in site.toml.",
            )


def _known(name: str, known: Mapping[str, Setting], where: str) -> Setting:
    if name in known:
        return known[name]
    near = difflib.get_close_matches(name, known, n=1)
    hint = f"Did you mean '{near[0]}'?" if near else "See `geoprofile plugins`."
    raise UsageError(where, f"'{name}'", f"one of {', '.join(known) or 'no settings'}", hint)


def _parsed(value: Any) -> Any:
    """A value from the command line: JSON where it is JSON, else the text itself."""
    if not isinstance(value, str):
        return value
    try:
        return json.loads(value)
    except (ValueError, RecursionError):  # no JSON, or a number or nesting beyond what is read
        return value


def _checked(setting: Setting, value: Any, where: str) -> Any:
    wrong = _fault(setting, value)
    if wrong is None:
        return float(value) if isinstance(setting.default, float) else value
    shown = repr(value)
    if len(shown) > MOST_SHOWN:
        shown = f"{shown[:MOST_SHOWN]}... ({len(shown)} characters)"
    raise UsageError(where, shown, wrong, setting.meaning + ".")


def _fault(setting: Setting, value: Any) -> str | None:
    """What is allowed, if the value is not."""
    if not _is_finite(value):
        return f"numbers between -{FARTHEST:g} and {FARTHEST:g}"
    if setting.allowed:
        return None if value in setting.allowed else f"one of {', '.join(setting.allowed)}"
    if isinstance(setting.default, bool):
        return None if isinstance(value, bool) else "true or false"
    if isinstance(setting.default, (int, float)):
        return _number_fault(setting, value)
    if isinstance(setting.default, list):
        return _list_fault(setting, value)
    return None if isinstance(value, str) else "a text"


def _is_finite(value: Any) -> bool:
    """Whether every number in a value is one that can be computed with."""
    if isinstance(value, list):
        return all(map(_is_finite, value))
    if isinstance(value, (int, float)):
        return -FARTHEST <= value <= FARTHEST  # NaN is not
    return True


def _list_fault(setting: Setting, value: Any) -> str | None:
    if not isinstance(value, list):
        return "a list"
    usual = setting.default if isinstance(setting.default, list) else []
    numeric = bool(setting.unit) and setting.name.endswith(f"_{setting.unit}")
    if numeric or (usual and all(type(item) in (int, float) for item in usual)):
        return None if all(type(item) in (int, float) for item in value) else "a list of numbers"
    return None if all(isinstance(item, str) for item in value) else "a list of texts in quotes"


def _number_fault(setting: Setting, value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return "a number"
    if isinstance(setting.default, int) and not isinstance(value, int):
        return "a whole number"
    if setting.low is not None and value < setting.low:
        return f"{setting.low:g} or more"
    if setting.high is not None and value > setting.high:
        return f"{setting.high:g} or less"
    return None


def fingerprints(
    ordered: Sequence[Layer],
    settings: Mapping[str, Mapping[str, Any]],
    table_fingerprint: Callable[[str], str],
) -> dict[str, str]:
    """What each layer rests on, as one hash: version, settings, input tables, layers before it."""
    writer = {table: layer.name for layer in ordered for table in layer.writes}
    found: dict[str, str] = {}
    for layer in ordered:
        parts = {
            "version": _version(layer),
            "layer": layer.name,
            "settings": dict(settings[layer.name]),
            "reads": {
                table: found[writer[table]] if table in writer else table_fingerprint(table)
                for table in layer.reads
            },
        }
        text = json.dumps(parts, sort_keys=True, default=str)
        found[layer.name] = hashlib.sha256(text.encode()).hexdigest()
    return found


def _version(layer: Layer) -> str:
    """Our version; of a layer that another package brings, the version of that package too."""
    from geoprofile.plugins.registry import installed

    return " ".join((__version__, *installed(getattr(layer.compute, "__module__", "") or "?")))


def needed(ordered: Sequence[Layer], targets: Sequence[str] | None) -> set[str]:
    """The layers asked for and all that they rest on."""
    if targets is None:
        return {layer.name for layer in ordered}
    writer = {table: layer for layer in ordered for table in layer.writes}
    by_name = {layer.name: layer for layer in ordered}
    wanted: set[str] = set()
    waiting = [by_name[name] for name in targets]
    while waiting:
        layer = waiting.pop()
        if layer.name not in wanted:
            wanted.add(layer.name)
            waiting += [writer[t] for t in layer.reads if t in writer]
    return wanted
