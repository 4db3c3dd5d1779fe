"""All that it takes to compute every table again, and the check that they come out alike."""

from __future__ import annotations

import glob
import json
import platform
import shutil
import tempfile
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import __version__
from geoprofile.errors import DataError, DataErrors, Problem, UsageError
from geoprofile.handover.crate import check_against_crate
from geoprofile.intake import find_files, read_settings
from geoprofile.plugins.registry import plugins
from geoprofile.schema import TABLES
from geoprofile.store import Store
from geoprofile.store.attachments import inside

if TYPE_CHECKING:
    from geoprofile.engine.computing import Announce
    from geoprofile.site import Site

INPUTS, PRINTS, VERSIONS, WORDS = "inputs", "fingerprints.json", "versions.json", "REPRODUCE.txt"
SETTINGS = "site.toml"
LIBRARIES = ("numpy", "scipy", "numba", "pandas", "shapely", "pyproj", "geopandas", "contourpy")
COMMAND = "geoprofile reproduce review"
TEXT = f"""Compute every table again
=========================

With geoprofile {{version}} installed (see {VERSIONS}), from the folder above this one:

    {COMMAND}

The command computes every layer from a copy of `{INPUTS}` and compares the SHA-256 of every table,
shapes included, with `{PRINTS}`. It changes nothing here. Random numbers come from generators
whose seeds are settings (see {SETTINGS} and `geoprofile plugins`), so the same inputs give the same
tables. A table that was edited in a GIS after loading differs, and so does what rests on it: the
command names it. Another processor or another version of a library may change last digits.
"""


def write_review(site: Site, folder: Path) -> tuple[str, ...]:
    """Write inputs, settings, versions and fingerprints into a folder.

    Raises
    ------
    DataErrors
        Input files that are gone or that were changed since they were loaded.
    """
    home = Path(site.path).parent
    profiles = read_settings(home).profile_files if (home / SETTINGS).is_file() else ()
    names = sorted({SETTINGS, *profiles, *_inputs(site, home)})
    for name in names:
        place = folder / INPUTS / name
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(inside(home, name), place)
    for name, content in (
        (PRINTS, _json(_fingerprints(Path(site.path)))),
        (VERSIONS, _json(_versions())),
        (WORDS, TEXT.format(version=__version__)),
    ):
        (folder / name).write_text(content, encoding="utf-8")
    return (*(f"{INPUTS}/{n}" for n in names), PRINTS, VERSIONS, WORDS)


def check_inputs(site: Site) -> None:
    """DataErrors with every input file that is gone or was changed since it was loaded."""
    _inputs(site, Path(site.path).parent)


def _inputs(site: Site, home: Path) -> list[str]:
    """The files that were loaded, each as it was then, with the parts that belong to it."""
    settings = read_settings(home) if (home / SETTINGS).is_file() else None
    present = {f.name: f for f in find_files(home, settings=settings)}
    names, problems = [], []
    for row in site.table("source_file").to_dict("records"):
        name = str(row["source_file"])
        folder = str(row.get("folder") or "")
        if folder and folder not in present:  # a folder that was loaded by itself
            below = find_files(home / folder, settings=settings)
            present |= {f"{folder}/{f.name}": f for f in below}
        found = present.get(name)
        if found is None or found.sha256 != row["fingerprint"]:
            what = "no such file" if found is None else "other content than was loaded"
            advice = "Put the file back, or run the site with it first."
            problems.append(Problem(name, what, "the file as it was loaded", advice))
            continue
        names += [p.relative_to(home).as_posix() for p in _parts(home / name.split("#")[0])]
    if problems:
        raise DataErrors(problems)
    return names


def _parts(file: Path) -> list[Path]:
    """A file, and what lies beside it under the same name where a format has several parts."""
    if file.suffix.lower() != ".shp":
        return [file]
    return sorted(p for p in file.parent.glob(f"{glob.escape(file.stem)}.*") if p.is_file())


def compute_tables(folder: Path, announce: Announce) -> Path:
    """Load a site folder into a new database and compute every layer; no figures."""
    from geoprofile import app

    settings = read_settings(folder)
    database = folder / settings.database
    app.create(
        database,
        crs=settings.crs,
        name=settings.name,
        vertical_datum=settings.vertical_datum,
    )
    app.load(database, [folder], announce=announce)
    read = {f.path for f in find_files(folder, settings=settings)}
    for below in sorted(p for p in folder.iterdir() if p.is_dir()):
        if {f.path for f in find_files(below)} - read:  # was loaded by itself
            app.load(database, [below], announce=announce)
    app.derive(database, list(plugins("layers")), command="reproduce", announce=announce)
    return database


def reproduce(folder: Path, compute: Callable[[Path], Path]) -> None:
    """Compute the tables of a review folder again and compare them.

    Parameters
    ----------
    folder : Path
        The folder `review` of a hand-over.
    compute : callable
        Takes a site folder, returns its database; such as `compute_tables`.

    Raises
    ------
    UsageError
        No review folder.
    DataErrors
        Every table that did not come out alike, byte for byte.
    """
    if not (folder / PRINTS).is_file() or not (folder / INPUTS).is_dir():
        raise UsageError(
            str(folder),
            f"no {PRINTS} or no {INPUTS}",
            "the folder 'review' of a hand-over",
            "Name that folder; it is made by `geoprofile handover --review`.",
        )
    check_against_crate(folder)
    meant = _kept_prints(folder)
    with tempfile.TemporaryDirectory() as work:
        copy = Path(work) / "site"
        _copy_inputs(folder / INPUTS, copy)
        found = _fingerprints(compute(copy))
    problems = [
        Problem(
            f"table {name} ({TABLES[name].owner})",
            "other content than was handed over",
            "the same, byte for byte",
            "See whether it was edited after loading, and compare the versions of the libraries.",
        )
        for name in meant
        if name in TABLES and meant[name] != found.get(name)
    ]
    if problems:
        raise DataErrors(problems)


def _kept_prints(folder: Path) -> dict[str, str]:
    """The fingerprints that were handed over; DataError where the file is corrupt."""
    try:
        meant = json.loads((folder / PRINTS).read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise _corrupt(folder / PRINTS, f"no JSON ({type(error).__name__})") from error
    if not isinstance(meant, dict):
        raise _corrupt(folder / PRINTS, f"a {type(meant).__name__}")
    return {str(name): str(value) for name, value in meant.items()}


def _copy_inputs(inputs: Path, copy: Path) -> None:
    """Copy the input files; DataError for a link, which a hand-over never holds."""
    for place in inputs.rglob("*"):
        if place.is_symlink():
            raise _corrupt(place, "a link")
    shutil.copytree(inputs, copy)


def _corrupt(place: Path, found: str) -> DataError:
    return DataError(
        str(place), found, "what was handed over", "Ask for the hand-over again; it was changed."
    )


def _fingerprints(database: Path) -> dict[str, str]:
    names = [t.name for t in TABLES.values() if t.owner != "system"]
    return Store.open(database).fingerprints(names)


def _versions() -> dict[str, str]:
    found = {"geoprofile": __version__, "python": platform.python_version()}
    found["system"] = f"{platform.system()} {platform.machine()}"
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def _json(value: Any) -> str:
    return json.dumps(value, indent=1, sort_keys=True) + "\n"
