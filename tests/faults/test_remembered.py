"""What a run remembers: the tables of one from scratch, whatever became of the memory."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import zipfile
from pathlib import Path

import numpy as np
import pytest

from geoprofile import remembered
from geoprofile.app.running import run
from geoprofile.hydraulics.tests import Conductivity, Part, TestAnalysis
from geoprofile.products.conductivity import conductivity
from geoprofile.products.model import model

READING = "readings/A2-2-a.csv"
# when and by which run something was made
NOT_THE_RESULT = {
    "started_at",
    "finished_at",
    "run",
    "id",
    "changed_at",
    "loaded_at",
    "last_change",
}


def tables_of(database: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table of results."""
    with contextlib.closing(sqlite3.connect(database)) as file:
        names = [r[0] for r in file.execute("SELECT table_name FROM gpkg_contents")]
        found = {}
        for name in sorted(names):
            columns = [r[1] for r in file.execute(f'PRAGMA table_info("{name}")')]
            kept = ", ".join(f'"{c}"' for c in columns if c not in NOT_THE_RESULT)
            found[name] = file.execute(f'SELECT {kept} FROM "{name}" ORDER BY 1, 2, 3').fetchall()
    found.pop("run", None)
    return found


def corrected(folder: Path) -> None:
    """One reading of one test is corrected."""
    lines = (folder / READING).read_text(encoding="utf-8").splitlines()
    time, level = lines[5].split(",")
    lines[5] = f"{time},{float(level) * 1.02:.5f}"
    (folder / READING).write_text("\n".join([*lines, ""]), encoding="utf-8")


@pytest.fixture
def counted(monkeypatch):
    """Which tests were analysed and which quantities fitted."""
    found: list[str] = []
    analyse, fit = conductivity.hydraulics.analyse, model.kriging.fit

    def analysed(test, methods):
        found.append(test.test)
        return analyse(test, methods)

    def fitted(data, **how):
        found.append(how["mean"])
        return fit(data, **how)

    monkeypatch.setattr(conductivity.hydraulics, "analyse", analysed)
    monkeypatch.setattr(model.kriging, "fit", fitted)
    return found


@pytest.fixture(scope="module")
def from_scratch(inputs, tmp_path_factory):
    """The tables of the corrected site, made in a folder that remembers nothing."""
    folder = tmp_path_factory.mktemp("scratch") / "site"
    shutil.copytree(inputs, folder)
    corrected(folder)
    run(folder)
    return tables_of(folder / "site.gpkg")


def test_a_corrected_reading_costs_one_test_and_one_field(
    computed, tmp_path, counted, from_scratch
):
    """K of the other tests and the field of TCE are remembered; all tables are those of scratch."""
    folder = tmp_path / "site"
    shutil.copytree(computed, folder)
    corrected(folder)
    run(folder)
    assert counted == ["A2-2-a", "constant"]  # K alone has a constant mean
    assert tables_of(folder / "site.gpkg") == from_scratch


def test_again_asks_no_memory(computed, tmp_path, counted):
    """`--again` analyses every test."""
    folder = tmp_path / "site"
    shutil.copytree(computed, folder)
    run(folder, again=True)
    assert len(counted) == 14


@pytest.mark.parametrize("damage", ["cut", "text", "empty", "other", "gone"])
def test_a_damaged_memory_is_no_memory(computed, tmp_path, damage, from_scratch):
    """Cut off, overwritten, emptied, with others' contents, deleted: everything is computed."""
    folder = tmp_path / "site"
    shutil.copytree(computed, folder)
    memory = folder / "out" / remembered.NAME
    whole = memory.read_bytes()
    if damage == "gone":
        memory.unlink()
    elif damage == "other":
        with zipfile.ZipFile(memory) as file:
            names = file.namelist()
        with zipfile.ZipFile(memory, "w") as file:
            for name in names:
                file.writestr(name, b"\xff\x00\x00\x00[]")
    else:
        memory.write_bytes(
            {"cut": whole[: len(whole) // 2], "text": b"x" * 999, "empty": b""}[damage]
        )
    corrected(folder)
    run(folder)
    assert tables_of(folder / "site.gpkg") == from_scratch


def test_records_come_back_as_they_were():
    """Text, numbers beyond JSON's, nothing, tuples and arrays of every kind."""
    result = Conductivity(
        method="m",
        k_m_per_s=0.1 + 0.2,
        sd_log10_k=float("inf"),
        k_low_m_per_s=np.float64(1e-300),
        k_high_m_per_s=5e-324,
        grade="accepted",
        notes=("a", "é"),
        parts=(Part("p", 1.0, "1", 0.5, "normal", -2.0),),
        fitted=np.array([[1.0, np.nan], [-0.0, 2.0]]),
        used=np.array([True, False]),
    )
    made = TestAnalysis("t", "i", (result,), 0, (("m", "why"),), "accepted", ())
    form = remembered.of_records("x", (TestAnalysis, Conductivity, Part))
    written = remembered._bytes(form.write(made))
    back = form.read(remembered._content(written))
    assert remembered.digest_of(back) == remembered.digest_of(made)
    assert not back.results[0].fitted.flags.writeable


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("ab", "c"), ("a", "bc")),
        ((1,), (1.0,)),
        ((0.0,), (-0.0,)),
        ((None,), ("None",)),
        ((np.zeros(2),), (np.zeros((2, 1)),)),
        ((np.zeros(2),), (np.zeros(2, dtype=np.int64),)),
        (((1, 2), 3), (1, (2, 3))),
        (({"a": 1},), ({"b": 1},)),
        ((len,), (abs,)),
    ],
)
def test_digests_tell_apart(one, other):
    """Parts that differ in kind, shape or where they end."""
    assert remembered.digest_of(*one) != remembered.digest_of(*other)
    assert remembered.digest_of(*one) == remembered.digest_of(*one)


def test_what_was_asked_longest_ago_goes_first(tmp_path, monkeypatch):
    """The file stays below its bound; what was asked for last is still there."""
    monkeypatch.setattr(remembered, "MOST_BYTES", 3 * 8000)
    form = remembered.of_arrays("numbers")
    for number in (0, 1, 0, 2, 0, 3):
        with remembered.remembering(tmp_path):
            remembered.remembered((number,), lambda: (np.zeros(900),), form)
    with zipfile.ZipFile(tmp_path / remembered.NAME) as file:
        assert remembered.digest_of(remembered.__version__, "numbers", 0) in file.namelist()
        assert len(file.namelist()) == 3
