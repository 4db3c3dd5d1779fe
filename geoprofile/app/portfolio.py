"""Many sites: run what is stale, each in a process of its own, and gather what they say."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import __version__
from geoprofile.app.one_site import (
    DATASET,
    Answer,
    facts_from,
    gather_one,
    get_ready,
    run_alone,
    state_after_run,
)
from geoprofile.app.outcome import silent
from geoprofile.app.running import is_unchanged
from geoprofile.errors import UsageError
from geoprofile.threads import processors
from geoprofile.whole import flush_all, refusing, write_text

if TYPE_CHECKING:
    from geoprofile.engine.computing import Announce
    from geoprofile.portfolio import Facts, Place

OUTPUT = "portfolio"
NOTE, PACKAGE, PAGE = "known.json", "portfolio.gpkg", "portfolio.html"
SAVED_EVERY_S = 5.0
RETRIES = 3  # of a site whose worker died
WORTH_WORKERS = 60  # finished sites to gather at once: the start of a worker is worth thirty
Done = Iterator[Answer]


@dataclass(frozen=True)
class Gathered:
    """The folder with what was gathered, sites by urgency, next tests, and what was computed."""

    folder: Path
    sites: tuple[Mapping[str, Any], ...]
    tests: tuple[Mapping[str, Any], ...]
    computed: tuple[str, ...]
    unchanged: bool = False

    @property
    def failed(self) -> tuple[Mapping[str, Any], ...]:
        """Sites without a present result."""
        return tuple(one for one in self.sites if one["state"] == "failed")


@dataclass
class _Known:
    """What is known of the sites from earlier: by name the state of the files, and the facts."""

    path: Path
    sites: dict[str, dict[str, Any]] = field(default_factory=dict)
    is_written: bool = False  # whether all of it stands in the GeoPackage and on the page
    budget: float | None = None  # what the tests in them were chosen for
    saved_at: float = field(default_factory=time.monotonic)
    new: list[str] = field(default_factory=list)  # sites whose partitions were written since

    def _partitions(self, name: str) -> Iterator[Path]:
        from geoprofile.portfolio import partitions

        return partitions(self.path.parent / DATASET, name)

    @classmethod
    def of(cls, path: Path) -> _Known:
        """As written down; nothing where another version wrote it, or it cannot be read."""
        try:
            said = json.loads(path.read_text(encoding="utf-8"))
            if said["version"] == __version__:
                return cls(path, dict(said["sites"]), bool(said["is_written"]), said["budget"])
        except (OSError, ValueError, KeyError, TypeError):
            pass  # then all sites are looked at again
        return cls(path)

    def save(self, *, now: bool = True) -> None:
        """Write it down; every few seconds is enough on the way."""
        if now or time.monotonic() - self.saved_at > SAVED_EVERY_S:
            # what is noted as gathered must be on the disk before the note is
            flush_all(p for name in self.new for p in self._partitions(name))
            self.new.clear()
            said = {
                "version": __version__,
                "is_written": self.is_written,
                "budget": self.budget,
                "sites": self.sites,
            }
            write_text(self.path, json.dumps(said, indent=0, default=str))
            self.saved_at = time.monotonic()

    def is_written_for(self, budget: float | None) -> bool:
        """Whether GeoPackage and page hold all of it, with tests for that budget."""
        return self.is_written and self.budget == budget

    def is_fresh(self, place: Place, state: str) -> bool:
        """Whether a site finished, and nothing of it has changed since."""
        told = self.sites.get(place.name)
        if told is None or told.get("state") != state:
            return False
        return bool(told["facts"]["state"] == "finished")


def portfolio(
    folder: Path,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    budget: float | None = None,
    announce: Announce = silent,
) -> Gathered:
    """Run every stale site below a folder, and gather what all of them say.

    Parameters
    ----------
    folder : Path
        Searched for folders with site.toml and for site files.
    workers : int, optional [-]
        Sites at a time, each in a process of its own; as many as processors when left out.
    scheduler : str, optional
        Address of a Dask scheduler whose workers see the same folders.
    budget : float, optional [-]
        For next tests at all sites, in the prices of the sites; no limit when left out.
    announce : callable
        Gives the progress for a step by its name.

    Returns
    -------
    Gathered
        With the sites that failed, and why.

    Raises
    ------
    UsageError
        No site there, or a library that is not installed.

    Notes
    -----
    Each site is its own transaction; one that fails stops no other. What is finished is known the
    next time, however this run ended.
    """
    from geoprofile.portfolio import find_sites, ranked, state_of

    if not folder.is_dir():
        raise UsageError(str(folder), "no folder", "a folder of sites", "Check the path.")
    places = find_sites(folder)
    if not places:
        raise UsageError(
            str(folder),
            "no site",
            "folders with site.toml, or site files, anywhere below it",
            "Check the path; `geoprofile templates` writes the files of a new site.",
        )
    out = folder / OUTPUT
    with refusing(out):
        out.mkdir(exist_ok=True)
    known = _Known.of(out / NOTE)
    gone = set(known.sites) - {place.name for place in places}
    states = {place.name: state_of(place) for place in places}
    stale = [place for place in places if not known.is_fresh(place, states[place.name])]
    is_there = known.is_written_for(budget) and all(
        (out / name).exists() for name in (PACKAGE, PAGE)
    )
    if is_there and not stale and not gone:
        rows, tests = ranked((facts_from(one["facts"]) for one in known.sites.values()), budget)
        return Gathered(out, tuple(rows), tuple(tests), (), unchanged=True)
    known.is_written = False
    computed = _compute(
        [(p, states[p.name]) for p in stale], out, known, (workers, scheduler), announce
    )
    for name in gone:
        del known.sites[name]
        _forget(out, name)
    known.save()
    rows, tests = ranked((facts_from(one["facts"]) for one in known.sites.values()), budget)
    _write(out, rows, tests, budget)
    known.is_written, known.budget = True, budget
    known.save()
    return Gathered(out, tuple(rows), tuple(tests), tuple(computed))


def push_portfolio(done: Gathered, address: str, schema: str) -> list[str]:
    """Replace the tables of a portfolio in a PostGIS database; the names of the tables.

    Parameters
    ----------
    done : Gathered
        What `portfolio` gave.
    address : str
        postgresql://user@host/database.
    schema : str
        Schema of the database.

    Raises
    ------
    UsageError
        The database cannot be used so.
    DiskError
        The server stopped it; nothing was changed.
    """
    from geoprofile.portfolio import frames, push

    return push(address, schema, done.folder / DATASET, frames(done.sites, done.tests))


def _compute(
    stale: Sequence[tuple[Place, str]],
    out: Path,
    known: _Known,
    workers: tuple[int | None, str | None],
    announce: Announce,
) -> list[str]:
    """Run and gather the stale sites as they get ready; the names of those that were run.

    Each comes with the state of its files before anything of it was looked at.
    """
    by_name = {place.name: place for place, _ in stale}
    to_run = [p for p, _ in stale if p.is_folder and not is_unchanged(p.path)]
    ready = [(p, state) for p, state in stale if p not in to_run]
    progress, done = announce("sites"), 0
    for place, state, found in _gather_many(ready, out, workers[0]):
        _keep(place, known, found, state)
        progress(done := done + 1, len(stale))
    with _working(out, *workers) as work:
        for answer in work(to_run):
            place = by_name[answer.name]
            if answer.told is not None:
                _keep(place, known, facts_from(answer.told["facts"]), str(answer.told["state"]))
            else:
                _gather(place, out, known, answer.reason, state_after_run(place))
            progress(done := done + 1, len(stale))
    return [place.name for place in to_run]


def _gather(place: Place, out: Path, known: _Known, reason: str | None, state: str) -> None:
    """Keep what a site says, and its part of the dataset; `state` is that of what was computed."""
    _keep(place, known, gather_one(out, place, reason), state)


def _keep(place: Place, known: _Known, found: Facts, state: str) -> None:
    known.new.append(place.name)
    known.sites[place.name] = {"state": state, "facts": found.kept()}
    known.save(now=False)


def _gather_many(
    ready: Sequence[tuple[Place, str]], out: Path, workers: int | None
) -> Iterator[tuple[Place, str, Facts]]:
    """Finished sites in their order; where they are many, workers gather beside this process."""
    from geoprofile.workers import at_hand, each

    beside = (workers or processors()) - 1 if len(ready) >= WORTH_WORKERS else 0
    with at_hand(beside, get_ready):
        found = each(gather_one, out, [place for place, _ in ready])
        for (place, state), facts in zip(ready, found, strict=True):
            yield place, state, facts


def _forget(out: Path, name: str) -> None:
    """Take away the partitions of a site that is no longer there."""
    from geoprofile.portfolio import partitions

    for path in partitions(out / DATASET, name):
        path.unlink()


def _write(
    out: Path, rows: list[dict[str, Any]], tests: list[dict[str, Any]], budget: float | None
) -> None:
    from geoprofile.portfolio import page, write_package

    write_package(out / PACKAGE, rows, tests)
    write_text(out / PAGE, page(rows, tests, budget))


@contextmanager
def _working(
    out: Path, workers: int | None, scheduler: str | None
) -> Iterator[Callable[[Sequence[Place]], Done]]:
    """Who runs the sites: processes of this machine, or a cluster that exists."""
    if workers is not None and workers < 1:
        raise UsageError("--workers", f"{workers}", "1 or more", "Leave it out for all processors.")
    if scheduler is not None:
        if workers is not None:
            raise UsageError(
                "portfolio", "--workers and --scheduler", "one of them", "Leave out the other."
            )
        with _cluster(out, scheduler) as work:
            yield work
        return
    with ThreadPoolExecutor(workers or processors()) as pool:

        def work(places: Sequence[Place]) -> Done:
            futures = [pool.submit(run_alone, p.name, str(p.path), str(out)) for p in places]
            try:
                for future in as_completed(futures):
                    yield future.result()
            finally:
                for future in futures:
                    future.cancel()

        yield work


@contextmanager
def _cluster(out: Path, address: str) -> Iterator[Callable[[Sequence[Place]], Done]]:
    """Workers of a cluster; a site whose worker died is given to another."""
    from geoprofile.formats._common import library

    distributed = library("distributed", "cluster")
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(
            "--scheduler",
            f"no answer at {address}",
            "the address of a running Dask scheduler, as tcp://host:8786",
            "Start the scheduler, or leave --scheduler out.",
        ) from error

    def work(places: Sequence[Place]) -> Done:
        futures = {
            client.submit(
                run_alone,
                p.name,
                str(p.path.resolve()),
                str(out.resolve()),
                pure=False,
                retries=RETRIES,
            ): p.name
            for p in places
        }
        for future in distributed.as_completed(futures):
            error = future.exception()
            yield Answer(futures[future], str(error)) if error is not None else future.result()

    with client:
        yield work
