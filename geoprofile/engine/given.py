"""Settings given to a layer's own command, which the commands that build on it keep."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

GIVEN = "--set"  # beside the settings of a layer: those of them that its own command was given


def kept_overrides(
    used: Mapping[str, Mapping[str, Any]],
    known: Mapping[str, Collection[str]],
    targets: Sequence[str] | None,
    overrides: Mapping[str, Any],
) -> dict[str, Any]:
    """Overrides of a command, with those that layers it only builds on were made by.

    Parameters
    ----------
    used : Mapping
        Settings by which each stored layer was made.
    known : Mapping
        Names of the settings that each layer has today; others hold up no command.
    targets : Sequence of str or None
        Layers asked for; None for all, which go by site.toml.
    overrides : Mapping
        A value per "layer.setting", which count more.

    Returns
    -------
    dict
        A value per "layer.setting".

    Examples
    --------
    After `interpolate --set model.rounds=all`, `map` finds the fields of all rounds; `interpolate`
    and `run` without it go back to site.toml.
    """
    if targets is None:
        return dict(overrides)
    found = {
        f"{layer}.{name}": value
        for layer, settings in used.items()
        if layer not in targets
        for name, value in dict(settings.get(GIVEN) or {}).items()
        if name in known.get(layer, ())
    }
    return found | dict(overrides)


def with_given(
    settings: Mapping[str, Mapping[str, Any]],
    names: Iterable[str],
    targets: Sequence[str] | None,
    overrides: Mapping[str, Any],
    kept: Mapping[str, Any],
) -> dict[str, dict[str, Any]]:
    """Settings to store, each layer's with what later commands are to keep.

    Parameters
    ----------
    settings : Mapping
        Chosen, by layer.
    names : Iterable of str
        Layers that were computed.
    targets : Sequence of str or None
        Layers asked for.
    overrides, kept : Mapping
        Of this command, and with those of commands before it.

    Returns
    -------
    dict
        What the command was given for a layer that it only builds on is for this command alone.
    """
    stored: dict[str, dict[str, Any]] = {}
    for layer in names:
        is_asked = targets is None or layer in targets
        own = overrides if is_asked else _others(kept, overrides)
        given = {
            full.partition(".")[2]: settings[layer][full.partition(".")[2]]
            for full in own
            if full.partition(".")[0] == layer
        }
        stored[layer] = dict(settings[layer]) | ({GIVEN: given} if given else {})
    return stored


def kept_in_words(kept: Mapping[str, Any], overrides: Mapping[str, Any]) -> tuple[str, ...]:
    """A remark on what is kept of earlier commands."""
    told = [f"{full}={value}" for full, value in _others(kept, overrides).items()]
    if not told:
        return ()
    return (
        f"kept from the command that computed it: --set {' --set '.join(told)}; that command or "
        "`run` without it goes back to site.toml",
    )


def _others(kept: Mapping[str, Any], overrides: Mapping[str, Any]) -> dict[str, Any]:
    return {full: value for full, value in kept.items() if full not in overrides}
