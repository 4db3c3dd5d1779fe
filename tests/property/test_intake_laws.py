"""Laws of intake on random tables, texts and bytes: what goes in comes out, or is told."""

from __future__ import annotations

import csv
import io
import math
import string
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from geoprofile import intake
from geoprofile.errors import GeoprofileError, Problem
from geoprofile.intake import times
from geoprofile.intake.cells import Cells, numbers
from geoprofile.intake.results import Value, parse_value
from geoprofile.intake.sources import SiteSettings
from geoprofile.site import empty_frame
from geoprofile.store import Changes, Store

QUICK = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
LONG = settings(QUICK, max_examples=20_000)
FEW = settings(QUICK, max_examples=12)
SITE = SiteSettings(crs="EPSG:32632")

plain_names = st.text(
    string.ascii_letters + string.digits + "-_.'\"äøß,;#=@", min_size=1, max_size=12
)
names = plain_names.map(str.strip).filter(lambda n: n and not n.startswith("#"))
reals = st.floats(allow_nan=False, allow_infinity=False, width=64)


def cells(*texts: str, decimal: str = ".", thousands: str = "") -> Cells:
    """One column of these texts."""
    return Cells(texts, range(2, 2 + len(texts)), "t.csv", "c", decimal, thousands)


def answered(text: str) -> None:
    """Every parser answers any text with a value or with three words of reason."""
    told: list = []
    for decimal in ".,":
        numbers(cells(text, decimal=decimal), told)
        found = parse_value(text, decimal=decimal)
        if isinstance(found, Value):
            assert found.detected or (math.isnan(found.value) and found.limit > 0)
            assert not found.detected or found.value > 0
        else:
            assert len(found) == 3
            assert all(found)
    times.moments(cells(text), SITE, told)
    times.dates(cells(text), SITE, told)
    assert all(str(p) for p in told)


@QUICK
@given(st.text(max_size=30))
def test_any_text_is_answered(text):
    """No text in a cell makes a parser fail in any way but with a problem."""
    answered(text)


@pytest.mark.calibration
@LONG
@given(
    st.text(max_size=60) | st.from_regex(r"[<>]?\s?-?\d*[.,]?\d*\s?[A-Za-z]{0,3}", fullmatch=True)
)
def test_any_text_is_answered_in_the_long_run(text):
    """The same for many more texts, also such as look nearly right."""
    answered(text)


def read_bytes(content: bytes, suffix: str = ".csv") -> None:
    """A file of any bytes gives a table or a GeoprofileError."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"criteria{suffix}"
        path.write_bytes(content)
        told: tuple[Problem, ...] = ()
        try:
            intake.read_files(intake.find_files(Path(folder)), SITE, {})
        except GeoprofileError as error:
            told = error.problems
        assert all(all((p.where, p.found, p.expected, p.advice)) for p in told)


@QUICK
@given(
    st.binary(max_size=400) | st.text(max_size=200).map(lambda t: b"analyte,value\n" + t.encode())
)
def test_any_bytes_are_a_table_or_a_message(content):
    """No file makes intake fail in any way but with problems."""
    read_bytes(content)


@pytest.mark.calibration
@settings(QUICK, max_examples=3000)
@given(st.binary(max_size=4000), st.sampled_from([".csv", ".xlsx"]))
def test_any_bytes_are_a_table_or_a_message_in_the_long_run(content, suffix):
    """The same for many more files, workbooks among them."""
    read_bytes(content, suffix)


@QUICK
@given(st.lists(reals, min_size=1, max_size=20))
def test_numbers_come_back_exactly(values):
    """A number written with all its digits is read to the last bit."""
    told: list = []
    assert numbers(cells(*map(repr, values)), told).tolist() == values
    assert not told


@QUICK
@given(st.lists(reals, min_size=1, max_size=20))
@example([1.875])
def test_decimal_commas_read_as_points_do(values):
    """Declared commas give the numbers that points give, 1,875 where no thousands are marked."""
    told: list = []
    texts = [repr(v).replace(".", ",") for v in values]
    assert numbers(cells(*texts, decimal=",", thousands="none"), told).tolist() == values
    assert not told


@QUICK
@given(
    st.datetimes(datetime(1950, 1, 1), datetime(2100, 1, 1)),
    st.integers(-14 * 60, 14 * 60),
)
def test_times_with_an_offset_come_back(time, minutes):
    """A time with its offset names one moment, whatever the site's zone."""
    local = time.replace(microsecond=0, tzinfo=UTC) + timedelta(minutes=minutes)
    sign, size = "-" if minutes < 0 else "+", abs(minutes)
    text = f"{local:%Y-%m-%dT%H:%M:%S}{sign}{size // 60:02d}:{size % 60:02d}"
    told: list = []
    zone = SiteSettings(crs="EPSG:32632", time_zone="America/St_Johns")
    assert times.moments(cells(text), zone, told) == [time.replace(microsecond=0, tzinfo=UTC)]


@st.composite
def criteria(draw) -> dict[str, float]:
    """Criteria of analytes whose names cannot be mixed up."""
    chosen = draw(st.lists(names, max_size=8, unique_by=lambda n: n.casefold().replace(" ", "")))
    value = st.floats(1e-6, 1e6)
    return {n: draw(value) for n in chosen}


def written(rows: dict[str, float]) -> bytes:
    """A file of criteria."""
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow(["analyte", "value", "unit", "basis"])
    writer.writerows([n, repr(v), "ug/L", "made up"] for n, v in rows.items())
    return held.getvalue().encode()


def read(rows: dict[str, float], folder: Path) -> pd.DataFrame:
    """The table `criterion` from a file of these rows."""
    (folder / "criteria.csv").write_bytes(written(rows))
    return intake.read_files(intake.find_files(folder), SITE, {}).tables["criterion"]


@FEW
@given(criteria())
def test_load_then_show_gives_the_same_rows(rows):
    """What a file says is what the database shows, name by name and bit by bit."""
    with tempfile.TemporaryDirectory() as folder:
        frame = read(rows, Path(folder))
        store = Store.create(Path(folder) / "s.gpkg", name="s", crs=SITE.crs, vertical_datum="d")
        merged = intake.merge({"criterion": frame}, {}, empty_frame("loaded", SITE.crs))
        store.write(Changes("load", upserts=merged.upserts, loaded=merged.loaded))
        site = store.read()
        shown = site.table("criterion")
        assert dict(zip(shown["analyte"], shown["value"], strict=True)) == rows
        again = intake.merge({"criterion": frame}, site.tables, site.table("loaded"))
        assert (again.upserts, again.deletes, again.findings) == ({}, {}, ())


@QUICK
@given(criteria(), criteria(), criteria())
def test_merge_never_loses_an_edit_unasked(first, file, here):
    """Unasked, a row that the database changed is never among the rows to store or delete."""
    with tempfile.TemporaryDirectory() as folder:
        loaded = intake.merge(
            {"criterion": read(first, Path(folder))}, {}, empty_frame("loaded", SITE.crs)
        ).loaded
        new, now = read(file, Path(folder)), read(here, Path(folder))
    merged = intake.merge({"criterion": new}, {"criterion": now}, loaded, prune=True)
    edited = {n for n in here if here[n] != first.get(n)}
    stored = set(merged.upserts["criterion"]["analyte"]) if merged.upserts else set()
    assert not stored & edited
    assert not {k[0] for k in merged.deletes.get("criterion", [])} & edited


@QUICK
@given(criteria(), criteria(), criteria())
def test_merge_preferring_files_makes_the_database_follow(first, file, here):
    """With files preferred, every row that changed in the file, or is not there, is taken."""
    with tempfile.TemporaryDirectory() as folder:
        loaded = intake.merge(
            {"criterion": read(first, Path(folder))}, {}, empty_frame("loaded", SITE.crs)
        ).loaded
        new, now = read(file, Path(folder)), read(here, Path(folder))
    merged = intake.merge({"criterion": new}, {"criterion": now}, loaded, prefer="files")
    stored = merged.upserts.get("criterion", new.iloc[:0])
    result = {**here, **dict(zip(stored["analyte"], stored["value"], strict=True))}
    changed = {n: v for n, v in file.items() if v != first.get(n) or n not in here}
    assert all(result[n] == v for n, v in changed.items())
    assert not [f for f in merged.findings if "both sides" in f["what"]]
