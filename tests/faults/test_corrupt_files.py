"""Files corrupt at random: each gives tables or a message, in seconds, and never half a site.

`pytest -m calibration tests/faults` tries a hundred thousand.
"""

from __future__ import annotations

import io
import itertools
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import geopandas as gpd
import numpy as np
import openpyxl
import pytest
import shapely
from faults_mutations import mutated

from geoprofile import intake
from geoprofile.errors import DataErrors, GeoprofileError, Problem
from geoprofile.intake.source_files import read_file
from geoprofile.store import Changes, Store, inspect

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no clock of processor time")
FEW, MANY = 25, 100_000
LONGEST_S = 5.0
# what other tables refer to; the rest is laid out when it is the one that is corrupt
BASE = ("site.toml", "boreholes.csv", "intervals.csv", "tests.csv", "samples.csv", "packers.csv")
COMPANIONS = (".shp", ".shx", ".dbf", ".prj", ".cpg")  # of a shapefile
SUFFIXES = {".geojson": "GeoJSON", ".gpkg": "GPKG", ".shp": "ESRI Shapefile", ".fgb": "FlatGeobuf"}


@contextmanager
def in_time() -> Iterator[None]:
    """TimeoutError after five seconds of processor time, which a busy machine does not use up."""

    def late(*_: object) -> None:
        raise TimeoutError(f"more than {LONGEST_S} s")

    old = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, old)


def workbook(tables: dict[str, bytes]) -> bytes:
    """Tables as sheets."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, content in tables.items():
        sheet = book.create_sheet(name.removesuffix(".csv"))
        for line in content.decode().splitlines():
            sheet.append([float(c) if c.isdigit() else c for c in line.split(",")])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


SHEETS = {
    "lithology.csv": b"borehole,top_m,bottom_m,unit\nA1,0,5,clay\nA1,5,9,sand\nA2,0,7,sand\n",
    "surveys.csv": b"borehole,depth_m,inclination_deg,azimuth_deg\nA2,0,3,20\nA2,20,4,25\n",
}


def shapes(folder: Path, suffix: str) -> dict[str, bytes]:
    """An area as a vector file, with its companions, by name."""
    box = shapely.box(499_980, 5_299_980, 500_110, 5_300_070)
    frame = gpd.GeoDataFrame({"name": ["all"], "kind": ["site"]}, geometry=[box], crs="EPSG:32632")
    path = folder / f"areas{suffix}"
    frame.to_file(path, driver=SUFFIXES[suffix], engine="fiona")
    return {p.name: p.read_bytes() for p in folder.glob("areas.*")}


@pytest.fixture(scope="module")
def originals(inputs, tmp_path_factory) -> dict[str, bytes]:
    """Every kind of file that is read, whole."""
    texts = {
        path.relative_to(inputs).as_posix(): path.read_bytes()
        for path in sorted(inputs.rglob("*"))
        if path.is_file() and path.name != "site.toml"
    }
    few = dict(itertools.islice(((n, t) for n, t in texts.items() if "readings" in n), 1))
    tables = {n: t for n, t in texts.items() if "readings" not in n}
    folder = tmp_path_factory.mktemp("shapes")
    made = {n: c for suffix in SUFFIXES for n, c in shapes(folder, suffix).items()}
    toml = {"site.toml": (inputs / "site.toml").read_bytes()}
    return {**tables, **few, **toml, **made, "field book.xlsx": workbook(SHEETS)}


class Bench:
    """A folder in which one file at a time is corrupt and read."""

    def __init__(self, folder: Path, originals: dict[str, bytes]) -> None:
        """Lay out the tables that the corrupt one may refer to."""
        self.folder, self.originals = folder, originals
        self.answers: Counter[str] = Counter()
        (folder / "readings").mkdir(parents=True)
        self._lay_out()
        self.settings = intake.read_settings(folder)
        self.store = Store.create(
            folder / "store.db", name="s", crs="EPSG:32632", vertical_datum="d"
        )
        self.empty = self.store.path.read_bytes()

    def read(self, name: str, content: bytes) -> None:
        """Read the folder with that file in it; everything else is as it was afterwards."""
        corrupt = {name: content}
        if name.endswith(COMPANIONS):
            corrupt = {f"areas{s}": self.originals[f"areas{s}"] for s in COMPANIONS} | corrupt
        for file, text in corrupt.items():
            (self.folder / file).write_bytes(text)
        try:
            self._read(self.folder / name)
        finally:
            for file in corrupt:
                (self.folder / file).unlink()
            self._lay_out()

    def _lay_out(self) -> None:
        for name in BASE:
            (self.folder / name).write_bytes(self.originals[name])

    def _read(self, path: Path) -> None:
        problems: tuple[Problem, ...] = ()
        try:
            settings = (
                self.settings if path.suffix != ".toml" else intake.read_settings(self.folder)
            )
            self._read_alone(path, settings)
            taken = intake.read_files(intake.find_files(self.folder), settings, {})
        except GeoprofileError as error:
            problems = error.problems
        assert all(all((p.where, p.found, p.expected, p.advice)) for p in problems)
        self.answers["refused" if problems else "taken"] += 1
        if problems:
            return
        if self.answers["taken"] % 20 == 1:
            self._store(taken)

    def _read_alone(self, path: Path, settings: intake.SiteSettings) -> None:
        """Most faults show already in the file itself, which is quicker than the whole folder."""
        if path.suffix in (".toml", *COMPANIONS):
            return
        problems: list[Problem] = []
        for source in intake.find_files(self.folder, only=path):
            read_file(source, settings, problems)
        if problems:
            raise DataErrors(problems)

    def _store(self, taken: intake.Intake) -> None:
        """What intake took, the store takes too, or refuses whole."""
        try:
            self.store.write(Changes("load", upserts=taken.tables))
            self.answers["stored"] += 1
        except GeoprofileError:
            assert self.store.path.read_bytes() == self.empty
        assert [f for f in inspect(self.store.path) if f.severity == "error"] == []
        self.store.path.write_bytes(self.empty)


def corrupt_inputs(bench: Bench, count: int, seed: int) -> float:
    """Read so many corrupt files; the longest time that one took [s]."""
    rng, longest = np.random.default_rng(seed), 0.0
    names = list(bench.originals)
    for number in range(count):
        name = names[int(rng.integers(len(names)))]
        content = mutated(bench.originals[name], rng)
        begun = time.monotonic()
        try:
            with in_time():
                bench.read(name, content)
        except Exception as error:
            error.add_note(f"case {number} of seed {seed}: {name} = {content[:3000]!r}")
            raise
        longest = max(longest, time.monotonic() - begun)
    return longest


def corrupt_databases(whole: bytes, path: Path, count: int, seed: int) -> Counter[str]:
    """Inspect and open so many corrupt site files."""
    rng, answers = np.random.default_rng(seed), Counter()
    for number in range(count):
        content = mutated(whole, rng)
        path.write_bytes(content)
        try:
            with in_time():
                _open(path, answers)
        except Exception as error:
            (path.parent / f"found {seed} {number}.gpkg").write_bytes(content)
            error.add_note(f"case {number} of seed {seed}")
            raise
        for suffix in ("-journal", "-wal", "-shm"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
    return answers


def _open(path: Path, answers: Counter[str]) -> None:
    found = inspect(path)
    assert all(f.what and f.what_to_do for f in found)
    try:
        site = Store.open(path).read()
    except GeoprofileError:
        answers["refused"] += 1
        return
    answers["read"] += 1
    assert site.crs


@pytest.fixture
def bench(tmp_path, originals) -> Bench:
    """A folder to corrupt files in."""
    return Bench(tmp_path / "site", originals)


def test_corrupt_inputs_are_tables_or_a_message(bench):
    """No traceback, no hang, nothing half stored."""
    corrupt_inputs(bench, FEW, seed=1)


def test_corrupt_databases_are_read_or_refused(sound, tmp_path):
    """No traceback and no hang."""
    corrupt_databases(sound.read_bytes(), tmp_path / "site.gpkg", FEW, seed=1)


@pytest.mark.calibration
def test_a_hundred_thousand_corrupt_files(bench, sound, tmp_path):
    """The same for very many; prints how they were answered."""
    longest = corrupt_inputs(bench, MANY * 4 // 5, seed=2)
    print(f"inputs: {dict(bench.answers)}, longest {longest:.1f} s")
    print(
        "databases:", corrupt_databases(sound.read_bytes(), tmp_path / "x.gpkg", MANY // 5, seed=2)
    )
