"""Finds products and plugins: our own by scanning, other people's by installed entry points."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import ModuleType
from typing import Any

from geoprofile.errors import BusyError, DiskError, UsageError, not_drawn
from geoprofile.plugins import FAMILIES, OFFERS

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


@cache
def _products() -> tuple[ModuleType, ...]:
    """The package of each product, light to import: ours in their order, then installed ones."""
    room = importlib.import_module("geoprofile.products")
    found = [m.name for m in pkgutil.iter_modules(room.__path__) if m.ispkg]
    names = [*room.ORDER, *sorted(set(found) - set(room.ORDER))]
    ours = [importlib.import_module(f"{room.__name__}.{name}") for name in names]
    return (*ours, *(_product_of(entry) for entry in entries("products")))


@cache  # every call of entry_points reads the metadata of all packages again
def _all_entries() -> Any:  # of two types, as Python's version is
    return entry_points()


@cache
def entries(family: str) -> tuple[EntryPoint, ...]:
    """What installed packages offer, in the order of their names whatever was installed first."""
    found = _all_entries().select(group=f"geoprofile.{family}")
    return tuple(sorted(found, key=lambda e: (e.name, e.value)))


def installed(module: str = "") -> tuple[str, ...]:
    """The installed packages that offer anything, with their versions: of a module, or all."""
    found = set()
    for family in ("products", *FAMILIES):
        for entry in entries(family):
            if entry.dist is not None and (not module or _root(entry.module) == _root(module)):
                found.add(f"{entry.dist.name} {entry.dist.version}")
    return tuple(sorted(found))


def _root(module: str) -> str:
    return module.partition(".")[0]


def _product_of(entry: EntryPoint) -> ModuleType:
    package = _loaded(entry)
    wrong = sorted(set(getattr(package, "OFFERS", {})) - set(OFFERS))
    if not isinstance(package, ModuleType) or wrong:
        raise UsageError(
            f"entry point {entry.value}",
            f"OFFERS with '{wrong[0]}'" if wrong else f"a {type(package).__name__}",
            f"a package with LAYERS, and OFFERS among {', '.join(OFFERS)}",
            "Correct or uninstall the package that offers it.",
        )
    return package


def _loaded(entry: EntryPoint) -> Any:
    """What an entry point names; a package that cannot be imported is told by its name."""
    try:
        return entry.load()
    except (ImportError, AttributeError) as error:
        raise UsageError(
            f"entry point {entry.value}",
            f"'{entry.name}', which cannot be imported ({error})",
            "an installed package that imports",
            "Install it again, or uninstall it.",
        ) from error


@cache
def plugins(family: str) -> Mapping[str, Any]:
    """All plugins of a family by name, in the order of their names."""
    kind: Any = FAMILIES[family]
    found: dict[str, Any] = {}
    for module in modules_of(family):
        _add(found, importlib.import_module(module).PLUGIN, kind, family, module)
    for entry in entries(family):
        _add(found, _loaded(entry), kind, family, f"entry point {entry.value}")
    return dict(sorted(found.items()))


def _add(found: dict[str, Any], one: Any, kind: Any, family: str, where: str) -> None:
    """Add a plugin under its name; refuse what is none, and a name that is taken."""
    if not isinstance(one, kind):
        raise UsageError(
            where,
            f"a {type(one).__name__}",
            f"a {kind.__name__} record",
            "Correct or uninstall the package that offers it.",
        )
    if one.name in found:
        raise UsageError(
            where,
            f"the name '{one.name}' twice in {family}",
            "a name of its own",
            "Rename the plugin or uninstall the package that offers it.",
        )
    found[one.name] = one


def offered_by_all(what: str) -> tuple[Any, ...]:
    """What the products offer under a name, in the order of the products: often functions.

    A product names it in its package as `OFFERS = {what: "module:name"}`; what may be offered, and
    in which form, stands in `geoprofile.plugins.OFFERS`.
    """
    return tuple(offers(what) for offers in products_with(what))


def asked_of_all(what: str, *about: Any) -> Iterator[tuple[str, list[Any] | Exception]]:
    """What each product answers to a question of words or figures, or what stopped it, by its name.

    It is asked when the tables are stored: a product that fails costs its own part, not the answer
    of the others.
    """
    for package in _products():
        if what not in getattr(package, "OFFERS", {}):
            continue
        name = package.__name__.rpartition(".")[2]
        try:
            yield name, list(_offer(package, what)(*about))
        except (MemoryError, DiskError, BusyError):
            raise
        except Exception as error:  # of a package from anywhere
            yield name, error


def told_by_all(what: str, *about: Any) -> tuple[list[str], list[str]]:
    """The sentences of all products on something, and one line for each product that failed."""
    told: list[str] = []
    failed: list[str] = []
    for name, answer in asked_of_all(what, *about):
        if isinstance(answer, Exception):
            failed.append(not_drawn(f"the {what} of {name}", answer, "Not told"))
        else:
            told += map(str, answer)
    return told, failed


def products_with(what: str) -> Iterator[Callable[[str], Any]]:
    """For each product that offers something under a name, what gives any offer of that product."""
    for package in _products():
        if what in getattr(package, "OFFERS", {}):
            yield partial(_offer, package)


def _offer(package: ModuleType, what: str) -> Any:
    where = str(package.OFFERS.get(what, ""))
    module, _, name = where.partition(":")
    try:
        return getattr(importlib.import_module(f"{package.__name__}.{module}"), name)
    except (ImportError, AttributeError) as error:
        raise UsageError(
            f"product {package.__name__}",
            f"'{what}' at '{where}', which is not there ({error})",
            "module:name within the package",
            "Correct or uninstall the package of the product.",
        ) from error


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
