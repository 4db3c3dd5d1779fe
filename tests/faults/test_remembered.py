"""What a run remembers: the tables of one from scratch, whatever became of the memory."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import zipfile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from geoprofile import remembered
from geoprofile.app.running import run
from geoprofile.hydraulics.tests import Conductivity, Part, TestAnalysis
from geoprofile.products.conductivity import conductivity
from geoprofile.products.model import fitted, model
from geoprofile.schema import DERIVED

READING = "readings/A2-2-a.csv"
# when and by which run something was made, and in which place
NOT_THE_RESULT = {"run", "fid", "id", "finding_id"}


def tables_of(database: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every derived table, in no order of its own."""
    with contextlib.closing(sqlite3.connect(database)) as file:
        found = {}
        for table in (*(t.name for t in DERIVED), "finding"):
            columns = [r[1] for r in file.execute(f'PRAGMA table_info("{table}")')]
            kept = ", ".join(f'"{c}"' for c in columns if c not in NOT_THE_RESULT)
            if kept:
                rows = file.execute(f'SELECT {kept} FROM "{table}"').fetchall()
                found[table] = sorted(rows, key=repr)
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


def test_a_corrected_reading_costs_one_test_and_one_field(inputs, computed, tmp_path, counted):
    """K of the other tests and the field of TCE are remembered; tables and figures are those of
    scratch.
    """
    one, other = tmp_path / "one", tmp_path / "other"
    shutil.copytree(computed, one)
    shutil.copytree(inputs, other)
    for folder in (one, other):
        corrected(folder)
    run(one)
    assert counted == ["A2-2-a", "constant"]  # K alone has a constant mean
    run(other)
    assert len(counted) == 2 + 12 + 2
    assert tables_of(one / "site.gpkg") == tables_of(other / "site.gpkg")
    figures = {f.name: f.read_bytes() for f in (other / "out").glob("*.[ps][nv]g")}
    assert len(figures) > 3
    assert {f.name: f.read_bytes() for f in (one / "out").glob("*.[ps][nv]g")} == figures


NUMBERS = remembered.of_arrays("numbers")


def asked(folder: Path, *, again: bool = False, number: float = 1.0) -> bool:
    """Whether a number that is asked for is remembered."""
    computed = []

    def compute():
        computed.append(number)
        return (np.array([number]),)

    with remembered.remembering(folder, again=again):
        (found,) = remembered.remembered((number,), compute, NUMBERS)
    assert found.tolist() == [number]
    return not computed


def test_other_code_is_another_result():
    """The digest of a package's code differs from that of another, and is the same twice."""
    one, other = remembered._code("hydraulics"), remembered._code("kriging")
    assert one != other
    assert one == remembered._code.__wrapped__("hydraulics")


def test_again_asks_no_memory(tmp_path):
    """What is remembered is found the next time, but not where all is to be computed again."""
    assert [asked(tmp_path), asked(tmp_path), asked(tmp_path, again=True)] == [False, True, False]
    assert not asked(tmp_path, number=2.0)
    assert asked(tmp_path)


@pytest.mark.parametrize("damage", ["cut", "text", "empty", "other", "changed", "folder", "large"])
def test_a_damaged_memory_is_no_memory(tmp_path, damage, monkeypatch):
    """Cut off, overwritten, with others' contents, changed in a byte, too large: computed anew."""
    asked(tmp_path)
    memory = tmp_path / remembered.NAME
    whole = memory.read_bytes()
    with zipfile.ZipFile(memory) as file:
        (name,) = file.namelist()
    if damage == "other":
        with zipfile.ZipFile(memory, "w") as file:
            file.writestr(name, b"\xff\x00\x00\x00[]")
    elif damage == "folder":
        memory.unlink()
        memory.mkdir()
    elif damage == "large":
        monkeypatch.setattr(remembered, "MOST_BYTES", 3)
    else:
        changed = bytearray(whole)
        changed[whole.index(np.array([1.0]).tobytes()) + 3] ^= 1
        memory.write_bytes(
            {"cut": whole[: len(whole) // 2], "text": b"x" * 999, "empty": b"", "changed": changed}[
                damage
            ]
        )
    assert not asked(tmp_path)


def test_what_stopped_half_way_remembers_nothing(tmp_path):
    """Nor does a folder that is not there."""

    def stopped():
        with remembered.remembering(tmp_path):
            remembered.remembered((1,), lambda: (np.zeros(1),), NUMBERS)
            raise KeyError

    with pytest.raises(KeyError):
        stopped()
    assert not asked(tmp_path / "none")
    assert not list(tmp_path.iterdir())


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
    assert type(back.results[0].k_low_m_per_s) is float  # as every later run has it


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
    monkeypatch.setattr(remembered, "LARGE", 1)
    for number in (1, 2, 3):
        with remembered.remembering(tmp_path):
            for one in (0, number):
                remembered.remembered((one,), lambda: (np.zeros(900),), NUMBERS)
    with zipfile.ZipFile(tmp_path / remembered.NAME) as file:
        assert remembered.digest_of("numbers", 0) in file.namelist()
        assert len(file.namelist()) == 3


def test_one_large_result_does_not_push_the_small_ones_out(tmp_path, monkeypatch):
    """More than a quarter of the bound is not kept at all; beyond it the largest goes first."""
    monkeypatch.setattr(remembered, "MOST_BYTES", 41_000)
    with remembered.remembering(tmp_path):
        for number, size in enumerate((100, 100, 1200, 1200, 1200, 1200, 1200, 2000)):
            remembered.remembered((number,), lambda n=size: (np.zeros(n),), NUMBERS)
    with zipfile.ZipFile(tmp_path / remembered.NAME) as file:
        left = set(file.namelist())
    names = [remembered.digest_of("numbers", number) for number in range(8)]
    assert {names[0], names[1]} <= left
    assert names[7] not in left
    assert sum(name in left for name in names[2:7]) == 4


def test_what_cannot_be_kept_is_computed_all_the_same(tmp_path):
    """Numbers in another order of bytes come back as they are; an object or a part without a digest
    costs the memory alone.
    """
    turned = np.array([1.0, 2.0], dtype=">f8")
    with remembered.remembering(tmp_path):
        for _ in range(2):
            (found,) = remembered.remembered(("turned",), lambda: (turned,), NUMBERS)
            assert found.tolist() == [1.0, 2.0]
        odd = remembered.Form("odd", (), lambda made: (made, ()), lambda found: found[0])
        assert remembered.remembered(("set",), lambda: {1, 2}, odd) == {1, 2}
        assert remembered.remembered((object(),), lambda: 5, odd) == 5


def test_fields_in_strata_are_not_answered_from_before(monkeypatch):
    """Their data are told apart to a millimetre of the contacts, answers hang on less."""
    given = iter([None, object()])
    monkeypatch.setattr(fitted.kriging, "fingerprint", lambda data: "x")
    monkeypatch.setattr(fitted, "replace", lambda model, kept: kept)
    monkeypatch.setattr(fitted.kriging, "from_json", lambda text, data: None)
    plain, in_strata = (
        fitted._read_back(f"model {n}", SimpleNamespace(strata=strata))
        for n, strata in enumerate(given)
    )
    assert plain.earlier is not None
    assert in_strata.earlier is None
    assert in_strata.later is None
    for key in [k for k in fitted._READ if k[1] == "x"]:
        del fitted._READ[key]
