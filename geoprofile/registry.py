"""Finds the plugs of each family: files in the family folder, then installed entry points."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from importlib.metadata import entry_points
from typing import Any

from geoprofile.errors import UsageError
from geoprofile.plugs import FAMILIES


@cache
def plugs(family: str) -> Mapping[str, Any]:
    """All plugs of a family by name, in the order of their names."""
    kind: Any = FAMILIES[family]
    found: dict[str, Any] = {}
    package = importlib.import_module(f"geoprofile.{family}")
    for module in pkgutil.iter_modules(package.__path__):
        if module.name.startswith("_"):
            continue
        member = importlib.import_module(f"geoprofile.{family}.{module.name}").PLUG
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
                "Rename the plug or uninstall the package that offers it.",
            )
        found[offered.name] = offered
    return dict(sorted(found.items()))


def plug(family: str, name: str) -> Any:
    """One plug by name; a wrong name is answered with the names there are."""
    known = plugs(family)
    if name in known:
        return known[name]
    near = difflib.get_close_matches(name, known, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    raise UsageError(
        family, f"'{name}'", f"one of {', '.join(known)}", f"Choose one of them.{hint}"
    )
