"""Everything in a folder is read or told, and a row remembers the folder it came from."""

from __future__ import annotations

import pytest

from geoprofile import app, intake
from geoprofile.errors import GeoprofileError

MORE = "sample,interval,sampled_at,round\nS9,B2-1,2026-07-01T11:00,R2\n"
FOUND = "sample,analyte,value,unit\nS9,TCE,3,ug/L\n"


def names(folder, settings=None):
    settings = settings or intake.read_settings(folder)
    return {f.name: f.table for f in intake.find_files(folder, settings=settings)}


def told(folder):
    settings = intake.read_settings(folder)
    files = intake.find_files(folder, settings=settings)
    return [str(p) for p in intake.unread(folder, files, settings)]


@pytest.mark.parametrize(
    ("name", "table"),
    [
        ("results_MW-10.csv", "result"),
        ("lab_results_Aug.csv", "result"),
        ("Samples Aug.csv", "sample"),
        ("sample_results.csv", "result"),
        ("2026 water levels.csv", "water_level"),
        ("readings/June/logger 1/T1.csv", "reading"),
        ("Lab report 77.csv", None),
        ("contests.csv", None),
    ],
)
def test_a_file_is_read_for_the_table_in_its_name(folder, name, table):
    """Before or after other words; the last word counts, or what the header says."""
    content = FOUND if table in ("result", None) else MORE
    assert names(folder({name: content})).get(name) == table


def test_any_number_of_files_fill_a_table(taken):
    """Rows of all of them."""
    read = taken({"samples_MW-10.csv": MORE, "results_MW-10.csv": FOUND})
    assert set(read.tables["sample"]["sample"]) == {"S1", "S2", "S9"}
    assert len(read.tables["result"]) == 3


def test_a_file_that_is_left_is_told_with_the_columns_that_gave_it_away(folder):
    """A laboratory's table under a name that says nothing."""
    (one,) = told(folder({"Lab report 77.csv": FOUND}))
    assert "Lab report 77.csv" in one
    assert "sample, analyte, value, unit" in one


def test_every_kind_of_file_is_told_and_the_program_s_own_are_not(folder):
    """Pictures, notes, other folders, old workbooks; not site.toml, the database, or `out`."""
    place = folder(
        {
            "photo.jpg": b"\xff\xd8\xff",
            "plan_B6/intervals.csv": "a\n",
            "old.xls": b"\xd0\xcf\x11\xe0",
            "readings/logger.txt": "a\n",
            "results_old.csv": FOUND,
            "site.toml": 'crs = "EPSG:32632"\n[intake]\nignore = ["*_old*"]\n',
            "out/map.csv": "a\n",
            "site.gpkg": b"x",
            "site.before-load-20260601T101010123.gpkg": b"x",
        }
    )
    lines = "\n".join(line.split(": found")[0] for line in told(place))
    for name in ("photo.jpg", "plan_B6/intervals.csv", "old.xls", "readings/logger.txt"):
        assert name in lines
    assert "results_old.csv" in lines
    for name in ("site.toml", "site.gpkg", "out/map", "before-load"):
        assert name not in lines
    assert "results_old.csv" not in names(place)


def test_a_name_that_claims_a_table_is_refused_with_the_column(one):
    """It is never left out because its header does not fit."""
    problem = one({"results_summary.csv": "sample,analyte,value,unit,colour\nS1,TCE,1,ug/L,red\n"})
    assert problem.where == "results_summary.csv, column colour"


@pytest.fixture
def stored(folder):
    """The small site in a database in its own folder, and a plan's folder below."""
    place = folder({"plan/samples.csv": MORE, "plan/results.csv": FOUND})
    database = place / "site.gpkg"
    app.create(database, crs="EPSG:32632")
    app.load(database, [place])
    app.load(database, [place / "plan"])
    return place, database


def test_rows_from_another_folder_neither_vanish_nor_are_pruned(stored):
    """Loading the site's own folder again, with --prune, leaves them."""
    place, database = stored
    app.load(database, [place], prune=True)
    site = app.read(database)
    assert set(site.table("sample")["sample"]) == {"S1", "S2", "S9"}
    assert site.table("finding").empty
    assert set(site.table("source_file")["source_file"]) >= {"samples.csv", "plan/samples.csv"}


def test_a_row_that_vanished_from_that_folder_is_told_when_it_is_loaded_again(stored):
    """With the folder in its name."""
    place, database = stored
    (place / "plan" / "results.csv").write_text(FOUND.split("\n")[0] + "\n")
    app.load(database, [place / "plan"])
    (what,) = app.read(database).table("finding")["what"]
    assert "plan/results.csv" in what


def test_load_tells_what_it_does_not_read_every_time(stored):
    """Also when nothing is new."""
    place, database = stored
    (place / "notes.pdf").write_bytes(b"x")
    for _ in range(2):
        done = app.load(database, [place])
        assert not done.loaded
        assert any("notes.pdf" in r for r in done.remarks)


def test_a_single_file_with_a_name_of_no_table_is_refused(stored):
    """Asked for by name, it must be read."""
    place, database = stored
    (place / "Lab report 77.csv").write_text(FOUND)
    with pytest.raises(GeoprofileError, match="fits no table"):
        app.load(database, [place / "Lab report 77.csv"])
