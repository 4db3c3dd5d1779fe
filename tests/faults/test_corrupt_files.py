"""Files corrupt at random: each gives tables or a message, in seconds, and never half a site.

`pytest -m calibration tests/faults/test_corrupt_files.py -s` tries a hundred thousand; FUZZED says
how many, FUZZ_FROM with which batch to begin. They run in forks that may take 1 GiB more memory and
60 s of processor time a case.
"""

from __future__ import annotations

import io
import itertools
import json
import os
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

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
FEW, MANY = 25, int(os.environ.get("FUZZED", "100000"))
BEGIN, BATCH = int(os.environ.get("FUZZ_FROM", "0")), 500
LONGEST_S = 5.0
GIB, HARDEST_S = 1 << 30, 60  # of a fork, the second for each case
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
        self._lay_out(set(BASE))
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
            self._lay_out(set(corrupt))

    def tidy(self) -> None:
        """Everything as at first, whatever a fork that died has left."""
        for path in self.folder.rglob("*"):
            if path.is_file():
                path.unlink()
        self._lay_out(set(BASE))
        self.store.path.write_bytes(self.empty)

    def _lay_out(self, which: set[str]) -> None:
        for name in which.intersection(BASE):
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


Seed = int | tuple[int, int]
Watch = Callable[[str], None]


def corrupt_inputs(
    bench: Bench, count: int, seed: Seed, watch: Watch = lambda case: None
) -> list[str]:
    """Read so many corrupt files; what was not as it should be."""
    rng, amiss = np.random.default_rng(seed), []
    names = list(bench.originals)
    for number in range(count):
        name = names[int(rng.integers(len(names)))]
        content = mutated(bench.originals[name], rng)
        watch(f"case {number} of seed {seed}: {name}")
        try:
            with in_time():
                bench.read(name, content)
        except Exception:
            case = f"case {number} of seed {seed}: {name} = {content[:3000]!r}"
            amiss.append(f"{case}\n{traceback.format_exc()}")
    return amiss


def corrupt_databases(
    whole: bytes,
    path: Path,
    count: int,
    seed: Seed,
    watch: Watch = lambda case: None,
) -> tuple[list[str], Counter[str]]:
    """Inspect and open so many corrupt site files; what was amiss, and how they were answered."""
    rng, amiss, answers = np.random.default_rng(seed), [], Counter()
    for number in range(count):
        content = mutated(whole, rng)
        path.write_bytes(content)
        watch(f"case {number} of seed {seed}: database")
        try:
            with in_time():
                _open(path, answers)
        except Exception:
            (path.parent / f"found {seed} {number}.gpkg").write_bytes(content)
            amiss.append(f"case {number} of seed {seed}\n{traceback.format_exc()}")
        for suffix in ("-journal", "-wal", "-shm"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
    return amiss, answers


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


Batch = Callable[[Watch], tuple[list[str], Counter[str]]]


def in_fork(work: Batch, said: Path) -> tuple[list[str], Counter[str]]:
    """What a batch found, done in a fork with little memory and time; its death is a finding."""
    said.write_text("[]", encoding="utf-8")
    last = said.with_suffix(".case")
    pid = os.fork()
    if pid:
        status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        amiss, answers = json.loads(said.read_text(encoding="utf-8")) or ([], {})
        if status:
            amiss.append(f"ended with {status} in {last.read_text(encoding='utf-8')}")
        return amiss, Counter(answers)
    status = 70
    try:
        import resource

        held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (held + GIB, held + GIB))
        _, most = resource.getrlimit(resource.RLIMIT_CPU)

        def watch(case: str) -> None:
            last.write_text(case, encoding="utf-8")
            resource.setrlimit(resource.RLIMIT_CPU, (int(time.process_time()) + HARDEST_S, most))

        said.write_text(json.dumps(work(watch)), encoding="utf-8")
        status = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(status)


def batches(count: int, work: Callable[[int, Watch], Any], said: Path, words: str) -> list[str]:
    """All batches one after the other; says how far it has come."""
    amiss, answers, begun = [], Counter(), time.monotonic()
    for number in range(BEGIN, BEGIN + max(1, count // BATCH)):
        found, of = in_fork(lambda watch, n=number: work(n, watch), said)
        amiss += found
        answers += of
        done = BATCH * (number + 1 - BEGIN)
        line = f"{words}: {done} done, {len(amiss)} amiss, {dict(answers)}"
        print(line, f"{time.monotonic() - begun:.0f} s", *found, flush=True)
    return amiss


@pytest.fixture
def bench(tmp_path, originals) -> Bench:
    """A folder to corrupt files in."""
    return Bench(tmp_path / "site", originals)


def test_corrupt_inputs_are_tables_or_a_message(bench):
    """No traceback, no hang, nothing half stored."""
    assert corrupt_inputs(bench, FEW, seed=1) == []


def test_corrupt_databases_are_read_or_refused(sound, tmp_path):
    """No traceback and no hang."""
    assert corrupt_databases(sound.read_bytes(), tmp_path / "site.gpkg", FEW, seed=1)[0] == []


@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
def test_what_takes_too_much_memory_or_dies_is_a_finding(tmp_path):
    """The battery below can fail: by memory, and by a death that no except sees."""

    def greedy(watch):
        watch("greedy")
        return [str(len(bytearray(2 * GIB)))], Counter()

    def dying(watch):
        watch("dying")
        os.kill(os.getpid(), signal.SIGKILL)

    for work, status in ((greedy, 70), (dying, -signal.SIGKILL)):
        assert in_fork(work, tmp_path / "said")[0] == [f"ended with {status} in {work.__name__}"]


@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
def test_a_file_whose_faults_are_no_text_is_refused(bench, originals, tmp_path):
    """Bytes that are no UTF-8 in what the library says of a file once ended the whole process."""
    name = "areas.gpkg"
    content = originals[name].replace(b"violates constraint", b"viola\xba'\x12\xc7 onstraint")
    assert content != originals[name]

    def work(watch):
        watch(name)
        bench.read(name, content)
        return [], bench.answers

    assert in_fork(work, tmp_path / "said") == ([], {"refused": 1})


@pytest.mark.calibration
@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
def test_very_many_corrupt_inputs(bench, tmp_path):
    """The same for four of five of a hundred thousand; prints how they were answered."""
    corrupt_inputs(bench, FEW, seed=3)  # what is imported once is imported here

    def of_inputs(number: int, watch: Watch) -> tuple[list[str], Counter[str]]:
        bench.tidy()
        bench.answers.clear()
        return corrupt_inputs(bench, BATCH, (2, number), watch), bench.answers

    assert batches(MANY * 4 // 5, of_inputs, tmp_path / "said", "inputs") == []


@pytest.mark.calibration
@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
def test_very_many_corrupt_databases(sound, tmp_path):
    """The fifth of five, site files."""
    whole = sound.read_bytes()

    def of_databases(number: int, watch: Watch) -> tuple[list[str], Counter[str]]:
        return corrupt_databases(whole, tmp_path / "x.gpkg", BATCH, (2, number), watch)

    assert batches(MANY // 5, of_databases, tmp_path / "said", "databases") == []
