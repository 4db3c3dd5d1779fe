"""Reads site.toml: few keys, each checked, an unknown one answered with the nearest known."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.intake.names import table_of
from geoprofile.intake.profiles import (
    MARKS,
    Profile,
    is_encoding,
    is_zone,
    profiles_of_file,
    read_profiles,
)
from geoprofile.intake.sources import SiteSettings
from geoprofile.plugins import FAMILIES
from geoprofile.plugins.registry import entries, modules_of
from geoprofile.schema import renamed
from geoprofile.schema.document import DOCUMENT_KEYS
from geoprofile.schema.shown_units import SHOWN_SETTINGS

FILE = "site.toml"
LONGEST_NAME = 180  # bytes; file systems take 255, safety copies add a reason and a time
TEXTS = ("name", "crs", "vertical_datum", "time_zone", "database")
DECLARATIONS = (
    "decimal",
    "thousands",
    "delimiter",
    "encoding",
    "date_format",
    "depth_from",
    "gallon",
    "extra_columns",
)
PROFILE, PROFILES = "profile", "profiles"  # in site.toml itself, and files of profiles
INTAKE = (*DECLARATIONS, "max_rows", "allow_far_holes", "ignore", PROFILE, PROFILES)
# either at the top or under [intake]
LOOSE = ("date_format", "depth_from")
ALLOWED = {
    "decimal": (".", ","),
    "delimiter": (",", ";", "\t", "|"),
    "depth_from": ("ground", "measuring point", "top of casing"),
    "thousands": MARKS,
    "gallon": ("US", "imperial"),
}
LISTS = ("date_format", "extra_columns", "ignore")
COMMANDS = {"handover"}  # commands that have settings of their own
DOCUMENT = "document"  # the title block of figures and report
UNITS = "units"  # that people read


def read_settings(folder: Path) -> SiteSettings:
    """The declarations and settings of a site folder, from its site.toml.

    Raises
    ------
    DataErrors
        No site.toml, no TOML, no crs, or keys and values that are not known; all at once.
    """
    said = under_present_names(_read(Path(folder) / FILE))
    problems = list(_problems(said, _steps()))
    profiles = _profiles(said, Path(folder), problems)
    if problems:
        raise DataErrors(problems)
    intake = {k: v for k, v in said.items() if k in LOOSE} | said.get("intake", {})
    intake = {k: v for k, v in intake.items() if k not in (PROFILE, PROFILES)}
    texts = {k: said[k].strip() for k in TEXTS if k in said}
    texts.setdefault("name", Path(folder).resolve().name)
    steps = {k: v for k, v in said.items() if isinstance(v, dict) and k != "intake"}
    if DOCUMENT in steps:
        steps[DOCUMENT] = {k: str(v) for k, v in steps[DOCUMENT].items()}
    fields = {k: _as_field(k, v) for k, v in intake.items()}
    kept = said.get("intake", {}).get(PROFILES, ())
    names = (kept,) if isinstance(kept, str) else tuple(kept)
    return SiteSettings(**texts, **fields, profiles=profiles, profile_files=names, settings=steps)


def _profiles(
    said: Mapping[str, Any], folder: Path, problems: list[Problem]
) -> tuple[Profile, ...]:
    """The profiles of site.toml, then those of the files that it names."""
    intake = said.get("intake", {})
    if not isinstance(intake, dict):
        return ()
    found: tuple[Profile, ...] = ()
    if PROFILE in intake:
        found, faults = read_profiles(intake[PROFILE], FILE, table_of)
        problems += faults
    names = intake.get(PROFILES, [])
    if not _is_texts(names):
        what = f"{PROFILES} = {names!r}"
        advice = 'Write such as profiles = ["../profiles/lab_one.toml"].'
        problems.append(Problem(FILE, what, "names of profile files", advice))
        return found
    for name in [names] if isinstance(names, str) else names:
        more, faults = profiles_of_file(folder / Path(name).expanduser(), name, table_of)
        found += more
        problems += faults
    return found


def under_present_names(said: Mapping[str, Any]) -> dict[str, Any]:
    """What site.toml says, with tables and keys of an earlier layout as they are named today."""
    found: dict[str, Any] = {}
    for key, value in said.items():
        name = renamed.SETTINGS.get(key, key)
        if name in said and name != key:
            name = key  # both are given: the old one is refused with the names there are
        names = renamed.SETTING_NAMES.get(name, {})
        found[name] = _renamed(value, names) if isinstance(value, dict) else value
    return found


def _renamed(value: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    return {k if names.get(k) in value else names.get(k, k): v for k, v in value.items()}


def old_settings(folder: Path) -> list[Problem]:
    """A note for each table or key of site.toml with an earlier name; it is read all the same."""
    said = _read(Path(folder) / FILE)
    now = under_present_names(said)
    notes = [(f"[{k}]", f"[{renamed.SETTINGS[k]}]") for k in said if k not in now]
    for table, names in renamed.SETTING_NAMES.items():
        old = {**said, **{n: said[k] for k, n in renamed.SETTINGS.items() if k in said}}
        inner = old.get(table, {})
        notes += [(k, n) for k, n in names.items() if isinstance(inner, dict) and k in inner]
    return [
        Problem(FILE, f"the earlier name {was}, read as {name}", name, "Rename it.")
        for was, name in notes
    ]


def _as_field(key: str, value: Any) -> Any:
    if key in LISTS:
        return (value,) if isinstance(value, str) else tuple(value)
    return value


def _read(path: Path) -> dict[str, Any]:
    if not path.parent.is_dir():
        raise DataError(
            str(path.parent), "no such folder", f"a site folder with a {FILE}", "Check the path."
        )
    if not path.is_file():
        raise DataError(
            str(path.parent),
            f"no {FILE}",
            "a site folder with a site.toml",
            f'Make {FILE} with one line, such as: crs = "EPSG:32632".',
        )
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise DataError(
            FILE,
            f"a line that is no TOML ({error})",
            'lines such as name = "text"',
            "Correct that line.",
        ) from error


def _steps() -> set[str]:
    """Names that may head a table of settings: the files of the plugin families and installed
    plugins.

    Nothing is imported, so that a run that finds nothing to do stays quick.
    """
    names = {module.rpartition(".")[2] for family in FAMILIES for module in modules_of(family)}
    for family in FAMILIES:
        names |= {e.name for e in entries(family)}
    return names | {n.replace("_", "-") for n in names} | COMMANDS


def _problems(said: Mapping[str, Any], steps: Collection[str]) -> list[Problem]:
    found = [*_missing_crs(said)]
    for key, value in said.items():
        if key in TEXTS:
            found += _text(key, value)
        elif key in LOOSE:
            found += _declaration(key, value)
        elif key == "intake" and isinstance(value, dict):
            for name, inner in value.items():
                found += _declaration(name, inner)
        elif key == DOCUMENT and isinstance(value, dict):
            for name, inner in value.items():
                found += _signature(name, inner)
        elif key == UNITS and isinstance(value, dict):
            for name, inner in value.items():
                found += _shown_unit(name, inner)
        elif not (isinstance(value, dict) and key in steps):
            known = (*TEXTS, *LOOSE, "intake", DOCUMENT, UNITS, *sorted(steps))
            found.append(_unknown(key, known))
    return found + _zone(said.get("time_zone", "UTC"))


def _missing_crs(said: Mapping[str, Any]) -> list[Problem]:
    if "crs" in said:
        return []
    return [
        Problem(
            FILE,
            "no crs",
            "the projected CRS of the site's coordinates",
            'Ask who made the coordinates, and add a line such as: crs = "EPSG:32632".',
        )
    ]


def _is_file_name(value: str) -> bool:
    """Whether it names a file in this very folder, with room for the names of safety copies."""
    plain = Path(value).name == value and value.isprintable()
    return plain and len(value.encode(errors="replace")) <= LONGEST_NAME


def _text(key: str, value: Any) -> list[Problem]:
    if isinstance(value, str) and value.strip():
        if key == "database" and not _is_file_name(value):
            return [
                Problem(
                    FILE,
                    f"database = {value[:60]!r}",
                    f"a plain file name of at most {LONGEST_NAME} bytes",
                    "Keep the database in the site folder.",
                )
            ]
        return []
    return [Problem(FILE, f"{key} = {value!r}", "text in quotes", f'Write {key} = "...".')]


def _signature(key: str, value: Any) -> list[Problem]:
    """A key of the title block: a text, or a number or day that is written as one."""
    if key not in DOCUMENT_KEYS:
        return [_unknown(f"document.{key}", tuple(f"document.{k}" for k in DOCUMENT_KEYS))]
    if isinstance(value, str | int | date) and not isinstance(value, bool):
        return []
    return [Problem(FILE, f"document.{key} = {value!r}", "text in quotes", "Correct it.")]


def _shown_unit(key: str, value: Any) -> list[Problem]:
    """A key of the units that people read."""
    if key not in SHOWN_SETTINGS:
        return [_unknown(f"units.{key}", tuple(f"units.{k}" for k in SHOWN_SETTINGS))]
    choices = tuple(dict.fromkeys(SHOWN_SETTINGS[key]))
    if value in choices:
        return []
    expected = " or ".join(repr(c) for c in choices)
    return [Problem(FILE, f"units.{key} = {value!r}", expected, "Choose one of them.")]


def _declaration(key: str, value: Any) -> list[Problem]:
    if key not in INTAKE:
        return [_unknown(f"intake.{key}", tuple(f"intake.{k}" for k in INTAKE))]
    if key in ALLOWED and value not in ALLOWED[key]:
        choices = " or ".join(repr(v) for v in ALLOWED[key])
        return [Problem(FILE, f"{key} = {value!r}", choices, "Choose one of them.")]
    if key == "max_rows" and not (type(value) is int and value > 0):
        return [Problem(FILE, f"max_rows = {value!r}", "a whole number above 0", "Correct it.")]
    if key == "allow_far_holes" and type(value) is not bool:
        return [Problem(FILE, f"{key} = {value!r}", "true or false", "Correct it.")]
    if key in (PROFILE, PROFILES):
        return []  # read and checked on their own
    if key == "encoding" and not is_encoding(value):
        return [
            Problem(
                FILE, f"encoding = {value!r}", "the name of an encoding", "Try cp1252 or utf-8."
            )
        ]
    if key in LISTS and not _is_texts(value):
        return [Problem(FILE, f"{key} = {value!r}", "text or a list of texts", "Correct it.")]
    return []


def _is_texts(value: Any) -> bool:
    items = [value] if isinstance(value, str) else value
    return isinstance(items, list) and all(isinstance(v, str) and v for v in items)


def _zone(value: Any) -> list[Problem]:
    if not isinstance(value, str) or not value.strip() or is_zone(value):
        return []  # what is no text has been told as such
    near = difflib.get_close_matches(str(value), sorted(available_timezones()), n=1)
    hint = f"Did you mean '{near[0]}'?" if near else "Use a name such as Europe/Berlin, or UTC."
    return [Problem(FILE, f"time_zone = {value!r}", "a name of the IANA time zones", hint)]


def _unknown(key: str, known: tuple[str, ...]) -> Problem:
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"Did you mean '{near[0]}'?" if near else "Remove it, or correct its spelling."
    return Problem(FILE, f"a key '{key}'", f"one of {', '.join(known)}", hint)
