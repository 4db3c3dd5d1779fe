"""One site of a portfolio: run in a process of its own, which gathers what it then says."""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import intake
from geoprofile.app.running import is_unchanged
from geoprofile.errors import GeoprofileError, UsageError
from geoprofile.schema import DERIVED
from geoprofile.store import Store

if TYPE_CHECKING:
    from geoprofile.portfolio import Facts, Place

MOST_SAID = 500  # characters of a reason
DATASET = "dataset"  # in the folder of the portfolio
READ = ("borehole", "concentration", "run")  # besides the derived tables
ALONE = "geoprofile.cli._alone"


@dataclass(frozen=True)
class Answer:
    """What came of a site: why its run failed, or what its own process has gathered of it."""

    name: str
    reason: str | None = None
    told: Mapping[str, Any] | None = None  # state of the files, and facts


def run_alone(name: str, folder: str, out: str = "") -> Answer:
    """Run a site in a process of its own, which ends with this one, however that ends.

    Parameters
    ----------
    name, folder : str
        Of the site.
    out : str, optional
        Folder of the portfolio, for which the same process gathers what the site says.

    Returns
    -------
    Answer
        Of the site.
    """
    # -P: nothing is imported from the folder that the user happens to be in
    words = [sys.executable, "-P", "-m", ALONE, name, out]
    # one process for each site: their number is what is shared out
    words += ["run", folder, "--quiet", "--workers", "0"]
    heard, held = os.pipe()
    try:
        done = subprocess.run(  # noqa: S603
            words, stdin=heard, capture_output=True, text=True, check=False, encoding="utf-8"
        )
    finally:
        os.close(heard)
        os.close(held)
    if done.returncode == 0:
        return Answer(name, told=_told(done.stdout))
    said = done.stderr.strip()[-MOST_SAID:]
    return Answer(name, said or f"the command ended with exit code {done.returncode}")


def _told(said: str) -> Mapping[str, Any] | None:
    """What the process of a site has gathered; None where it could not."""
    with suppress(ValueError, LookupError, TypeError):
        told = json.loads(said.splitlines()[-1])
        return {"state": str(told["state"]), "facts": facts_from(told["facts"]).kept()}
    return None


def gathered(name: str, folder: str, out: str) -> str:
    """What a site that has just been run says, as a line of JSON; its part of the dataset is there.

    Parameters
    ----------
    name, folder : str
        Of the site.
    out : str
        Folder of the portfolio.

    Returns
    -------
    str
        State of its files before anything of it was looked at, and facts.
    """
    from geoprofile.portfolio import Place

    place = Place(name, Path(folder))
    state = state_after_run(place)
    return json.dumps({"state": state, "facts": gather_one(Path(out), place).kept()}, default=str)


def state_after_run(place: Place) -> str:
    """The state of a site's files, or none where some changed since the run had read them."""
    from geoprofile.portfolio import state_of

    try:
        state = state_of(place)  # first: what changes from here on differs from it the next time
    except OSError:  # taken away meanwhile
        return ""
    return state if is_unchanged(place.path) else ""


def gather_one(out: Path, place: Place, reason: str | None = None) -> Facts:
    """Write a site's part of the dataset, and say what stands in it.

    Parameters
    ----------
    out : Path
        Folder of the portfolio.
    place : Place
        The site.
    reason : str, optional
        Why its run failed.

    Returns
    -------
    Facts
        Of the site; where it cannot be read, why.
    """
    from geoprofile.portfolio import facts_of, failed, place_of, write_partition

    try:
        path = _site_file(place)
        site = Store.peek(path).read([*(t.name for t in DERIVED), *READ])
        found = facts_of(place.name, site, _link(out, path))
        if reason is None:
            write_partition(out / DATASET, place.name, site)
        else:
            found = failed(place.name, reason)
            found.longitude_deg, found.latitude_deg = place_of(site)
    except UsageError as error:
        if "library" in error.problem.where:
            raise
        found = failed(place.name, reason or str(error))
    except (GeoprofileError, OSError) as error:
        found = failed(place.name, reason or str(error))
    return found


def get_ready() -> None:
    """What a worker that gathers does first: import."""
    for name in ("geoprofile.portfolio", "geopandas", "pyarrow.parquet"):
        with suppress(ImportError):  # the dataset may not be wanted
            importlib.import_module(name)


def facts_from(said: Mapping[str, Any]) -> Facts:
    """The facts of a site, as they were written down."""
    from geoprofile.portfolio import Facts

    return Facts(**{**said, "tests": tuple(said["tests"])})


def _site_file(place: Place) -> Path:
    """The site's GeoPackage."""
    if not place.is_folder:
        return place.path
    return place.path / intake.read_settings(place.path).database


def _link(out: Path, path: Path) -> str:
    """From the portfolio's page to a report, if there is one beside the site file, else to that."""
    pages = sorted(path.parent.glob("*.html"))
    return Path(os.path.relpath(pages[0] if pages else path, out)).as_posix()
