"""A small site, site files of earlier layouts, and the command in this process."""

from __future__ import annotations

import contextlib
import gzip
import sqlite3
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from geoprofile.app import figures
from geoprofile.app.outcome import Drawn
from geoprofile.cli import main
from geoprofile.store.connection import register_functions

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import small_yard  # noqa: E402  beside this file


@dataclass(frozen=True)
class Answer:
    """What a command answered."""

    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def geoprofile(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Answer]:
    """The command line as it is, from its arguments to its exit code."""

    def call(*words: object) -> Answer:
        monkeypatch.setattr(sys, "argv", ["geoprofile", *map(str, words)])
        capsys.readouterr()
        code = 0
        try:
            main()
        except SystemExit as leaving:
            code = int(leaving.code or 0)
        said = capsys.readouterr()
        return Answer(code, said.out, said.err)

    return call


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """The small site without samples, which runs in a moment."""
    folder: Path = small_yard.write_yard(tmp_path / "yard")
    for name in ("samples.csv", "results.csv"):
        (folder / name).unlink()
    return folder


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have `run` draw nothing, where what is tested lies in the site file."""
    nothing = Drawn((), ())
    monkeypatch.setattr(figures, "draw_run", lambda site, folder, progress: nothing)


@pytest.fixture(scope="session")
def ran_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small site without samples after one run. Treat it as read-only."""
    from geoprofile import app

    folder: Path = small_yard.write_yard(tmp_path_factory.mktemp("yard") / "yard")
    for name in ("samples.csv", "results.csv"):
        (folder / name).unlink()
    app.run(folder)
    return folder


@pytest.fixture
def kept(tmp_path: Path) -> Callable[[str], Path]:
    """A kept file of an earlier layout, unpacked."""

    def unpack(name: str) -> Path:
        path = tmp_path / "site.gpkg"
        path.write_bytes(gzip.decompress((HERE / "files" / f"{name}.gpkg.gz").read_bytes()))
        return path

    return unpack


@contextlib.contextmanager
def _open(path: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(path, isolation_level=None)
    register_functions(connection)
    try:
        yield connection
    finally:
        connection.close()


@pytest.fixture
def edit() -> Callable[..., None]:
    """Run SQL on a site file as a GIS would."""

    def run(path: Path, *statements: str) -> None:
        with _open(path) as connection:
            for statement in statements:
                connection.execute(statement)

    return run


@pytest.fixture
def query() -> Callable[[Path, str], list[tuple[object, ...]]]:
    """Rows of a query."""

    def run(path: Path, sql: str) -> list[tuple[object, ...]]:
        with _open(path) as connection:
            return connection.execute(sql).fetchall()

    return run
