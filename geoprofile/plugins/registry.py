"""Finds the plugins of each family: files in the family folder, then installed entry points."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from importlib.metadata import entry_points
from pathlib import Path
from types import ModuleType
from typing import Any

from geoprofile.errors import UsageError
from geoprofile.plugins import FAMILIES

ROOMS = {"methods": "geoprofile.hydraulics.methods", "formats": "geoprofile.formats"}


def modules_of(family: str) -> tuple[str, ...]:
    """Modules that each define one member of a family, in the order of their names."""
    if family == "layers":
        return _layer_modules()
    room = ROOMS[family]
    # by its place, since importing it would load compiled code for a list of names
    folder = Path(__file__).parents[1].joinpath(*room.split(".")[1:])
    names = [m.name for m in pkgutil.iter_modules([str(folder)])]
    return tuple(f"{room}.{name}" for name in names if not name.startswith("_"))


def _layer_modules() -> tuple[str, ...]:
    """The layers that each product names."""
    named = ((p.__name__, getattr(p, "LAYERS", ())) for p in _products())
    return tuple(f"{package}.{layer}" for package, layers in named for layer in layers)


def _products() -> tuple[ModuleType, ...]:
    """The package of each product, light to import."""
    room = importlib.import_module("geoprofile.products")
    names = [m.name for m in pkgutil.iter_modules(room.__path__) if m.ispkg]
    return tuple(importlib.import_module(f"{room.__name__}.{name}") for name in names)


@cache
def plugins(family: str) -> Mapping[str, Any]:
    """All plugins of a family by name, in the order of their names."""
    kind: Any = FAMILIES[family]
    found: dict[str, Any] = {}
    for module in modules_of(family):
        member = importlib.import_module(module).PLUGIN
        found[member.name] = member
    for entry in entry_points(group=f"geoprofile.{family}"):
        offered = entry.load()
        if not isinstance(offered, kind):
            raise UsageError(
                f"entry point {entry.value}",
                f"a {type(offered).__name__}",
                f"a {kind.__name__} record",
                "Correct or uninstall the package that offers it.",
            )
        if offered.name in found:
            raise UsageError(
                f"entry point {entry.value}",
                f"the name '{offered.name}' twice in {family}",
                "a name of its own",
                "Rename the plugin or uninstall the package that offers it.",
            )
        found[offered.name] = offered
    return dict(sorted(found.items()))


def offered_by_all(what: str) -> tuple[Any, ...]:
    """What the products offer under a name, in the order of the products: often functions.

    A product names it in its package as `OFFERS = {what: "module:name"}`.
    """
    found = []
    for package in _products():
        where = getattr(package, "OFFERS", {}).get(what)
        if where is not None:
            module, _, name = where.partition(":")
            found.append(getattr(importlib.import_module(f"{package.__name__}.{module}"), name))
    return tuple(found)


def offered(what: str) -> Any:
    """What the one product that has it offers under a name."""
    for one in offered_by_all(what):
        return one
    raise LookupError(f"no product offers '{what}'")


def plugin(family: str, name: str) -> Any:
    """One plugin by name; a wrong name is answered with the names there are."""
    known = plugins(family)
    if name in known:
        return known[name]
    near = difflib.get_close_matches(name, known, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    raise UsageError(
        family, f"'{name}'", f"one of {', '.join(known)}", f"Choose one of them.{hint}"
    )
