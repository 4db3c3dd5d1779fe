"""Two programs at the same moment: what either did is kept, computed and told."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from other_hand import edit_words, geoprofile_words, interleaved, run_words

from geoprofile.store import Store, inspect

slow = pytest.mark.calibration  # the same in this process, for every moment: test_any_order.py
WIDE = "UPDATE test SET riser_diameter_mm = 76 WHERE test = 'TB1-1'"


@pytest.fixture
def ran(ran_once, tmp_path):
    """The folder of the small site after one run."""
    return shutil.copytree(ran_once, tmp_path / "ran")


def told(folder):
    """(table, key, what) of the findings on files against the database."""
    columns = ["source_table", "row_key", "what", "step"]
    rows = Store.open(folder / "site.gpkg").rows("finding", columns)
    return [row[:3] for row in rows if row[3] == "load"]


def k_of(path, interval):
    """K of an interval [m/s]."""
    rows = Store.open(path).rows("interval_conductivity", ["interval", "k_m_per_s"])
    return dict(rows)[interval]


@slow
@pytest.mark.parametrize(
    "moment",
    [
        "before computing",
        "after computing",
        "before writing",
        "after writing",
        "before drawing",
        "after drawing",
        "before remembering",
    ],
)
def test_an_edit_during_a_run_is_computed_and_told(ran, moment):
    """K of a riser twice as wide is four times as large: by this run or by the next one."""
    site = ran / "site.gpkg"
    before = k_of(site, "B1-1")
    answer = interleaved(moment, [edit_words(site, WIDE)], "run", ran, "--again")
    assert answer.returncode == 0, answer.stderr
    answer = run_words(geoprofile_words("run", ran))
    assert answer.returncode == 0, answer.stderr
    assert k_of(site, "B1-1") == pytest.approx(4 * before, rel=0.01)
    assert any("riser_diameter_mm is 38 in the file, 76 here" in what for *_, what in told(ran))
    again = run_words(geoprofile_words("run", ran))
    assert "Nothing has changed" in again.stderr
    assert k_of(site, "B1-1") == pytest.approx(4 * before, rel=0.01)


LOAD_MOMENTS = (
    "before writing",
    *(
        pytest.param(moment, marks=slow)
        for moment in ("before files are read", "after files are read", "before merging")
    ),
)


@pytest.mark.parametrize("moment", LOAD_MOMENTS)
def test_an_edit_of_the_loaded_row_during_a_load_is_a_finding(ran, moment):
    """The file changes one value, the GIS another of the same row: the edit stays and is told."""
    site, tests = ran / "site.gpkg", ran / "tests.csv"
    tests.write_text(tests.read_text().replace(",0.8,10,", ",0.8,11,", 1))
    answer = interleaved(moment, [edit_words(site, WIDE)], "load", site, ran)
    assert answer.returncode == 0, answer.stderr
    assert Store.open(site).rows("test", ["riser_diameter_mm"])[0] == (76,)
    ((table, key, what),) = told(ran)
    assert (table, key) == ("test", "TB1-1")
    assert "riser_diameter_mm is 38 in the file, 76 here" in what
    assert "water_temperature_c is 11 in the file, 10 here" in what


@slow
@pytest.mark.parametrize("moment", LOAD_MOMENTS)
def test_an_edit_of_another_row_during_a_load_is_noted_with_both_values(ran, moment):
    """The edit stays, the load is done, and the note names both values."""
    site, holes = ran / "site.gpkg", ran / "boreholes.csv"
    holes.write_text(holes.read_text().replace(",25,", ",26,", 1))
    added = (
        "INSERT INTO criterion (analyte, value, unit, basis) "
        "VALUES ('BENZENE', 5, 'ug/L', 'drawn here')"
    )
    answer = interleaved(moment, [edit_words(site, WIDE, added)], "load", site, ran)
    assert answer.returncode == 0, answer.stderr
    store = Store.open(site)
    assert store.rows("borehole", ["depth_m"])[0] == (26,)
    assert store.rows("test", ["riser_diameter_mm"])[0] == (76,)
    assert ("BENZENE",) in store.rows("criterion", ["analyte"])
    found = {(table, key): what for table, key, what in told(ran)}
    assert "riser_diameter_mm is 38 in the file, 76 here" in found["test", "TB1-1"]
    assert "added in the database" in found["criterion", "BENZENE"]


def test_an_edit_before_one_file_is_loaded_alone_is_told_by_the_next_whole_load(ran, edit):
    """A load of one table does not take edits of the others for what was loaded."""
    site, holes = ran / "site.gpkg", ran / "boreholes.csv"
    edit(site, WIDE)
    holes.write_text(holes.read_text().replace(",25,", ",26,", 1))
    assert run_words(geoprofile_words("load", site, holes)).returncode == 0
    assert run_words(geoprofile_words("load", site, ran)).returncode == 0
    assert [(table, key) for table, key, _ in told(ran)] == [("test", "TB1-1")]


@slow
def test_findings_of_a_load_outlive_a_command_that_was_computing(ran, edit):
    """The conflict that a load told stays when another command stores what it computed."""
    site, criteria = ran / "site.gpkg", ran / "criteria.csv"
    edit(site, "UPDATE criterion SET value = 7")
    criteria.write_text(criteria.read_text().replace("TCE,10,", "TCE,20,"))
    load = geoprofile_words("load", site, ran)
    for moment in ("before computing", "after computing", "before writing"):
        answer = interleaved(moment, [load], "conductivity", site, "--again")
        assert answer.returncode == 0, answer.stderr
        ((_, key, what),) = told(ran)
        assert key == "TCE"
        assert "value is 20 in the file, 7 here" in what


@slow
def test_endless_edits_end_in_a_message_and_code_3(ran):
    """After some tries the command gives up, says why, and has changed nothing."""
    site = ran / "site.gpkg"
    runs = len(Store.open(site).rows("run"))
    words = ("conductivity", site, "--again")
    other = edit_words(site, "UPDATE test SET riser_diameter_mm = riser_diameter_mm + 1")
    answer = interleaved("before writing", [other], *words, turn=0)
    assert answer.returncode == 3, answer.stderr
    assert "test" in answer.stderr
    assert "Traceback" not in answer.stderr
    assert len(Store.open(site).rows("run")) == runs


def test_two_runs_at_once_on_a_new_folder_both_end_well(yard):
    """One may wait or answer 3; the site file is there, sound, and says all at the next run."""
    words = geoprofile_words("run", yard)
    both = [subprocess.Popen(words, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    said = [process.communicate()[1] for process in both]
    codes = sorted(process.returncode for process in both)
    assert codes in ([0, 0], [0, 3]), said
    assert not any("Traceback" in text for text in said)
    assert inspect(yard / "site.gpkg") == []
    assert not [p.name for p in (*yard.iterdir(), *(yard / "out").iterdir()) if p.name[0] == "."]
    answer = run_words(words)
    assert answer.returncode == 0, answer.stderr
    assert len(Store.open(yard / "site.gpkg").rows("interval_conductivity")) == 9


@slow
@pytest.mark.parametrize("moment", ["before files are read", "before writing", "after writing"])
def test_a_site_made_by_another_run_meanwhile_is_kept(yard, moment):
    """The second run of a new folder ends while the first still loads: neither harms the other."""
    words = geoprofile_words("run", yard)
    answer = interleaved(moment, [words], "run", yard)
    assert answer.returncode in (0, 3), answer.stderr
    assert "OTHER" not in answer.stderr
    assert inspect(yard / "site.gpkg") == []
    assert run_words(words).returncode == 0
    assert len(Store.open(yard / "site.gpkg").rows("interval_conductivity")) == 9
