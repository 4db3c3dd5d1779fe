"""What was done to a site file, and what changed in numbers between two of its states."""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3

import pytest

from geoprofile.report.key_figures import change, differences, words
from geoprofile.store.connection import register_functions


@pytest.fixture(scope="module")
def ran_twice(ran_once, tmp_path_factory):
    """The small site, run again after one test became slower and one interval left the files."""
    import small_yard

    from geoprofile import app

    folder = shutil.copytree(ran_once, tmp_path_factory.mktemp("twice") / "yard")
    # the level falls three times as slowly: K is inversely proportional to the time lag
    (folder / "readings" / "TB1-1.csv").write_text(small_yard.readings(3 * small_yard.LAG_S))
    shutil.copy(folder / "site.gpkg", folder / "before.gpkg")
    for name, words_ in (("intervals.csv", "B3-3,"), ("tests.csv", "TB3-3,")):
        lines = (folder / name).read_text().splitlines(keepends=True)
        (folder / name).write_text("".join(x for x in lines if not x.startswith(words_)))
    (folder / "readings" / "TB3-3.csv").unlink()
    app.run(folder, prune=True, overrides={"consistency.head_difference_m": "0.5"})
    return folder


def rows(geoprofile, *words_):
    """Rows of a comparison by figure and item."""
    answer = geoprofile("compare", *words_, "--format", "json")
    assert answer.returncode == 0, answer.stderr
    return {(r["figure"], r["item"]): r for r in json.loads(answer.stdout)}


def test_the_last_two_runs_are_compared_in_numbers(ran_twice, geoprofile):
    """K three times smaller, one gone, the others alike; the field follows."""
    found = rows(geoprofile, ran_twice / "site.gpkg")
    k = found["k_m_per_s", "B1-1"]
    assert k["after"] == pytest.approx(k["before"] / 3, rel=1e-3)  # readings have four decimals
    assert k["change"] == "x 0.333"
    assert found["k_m_per_s", "B3-3"]["change"] == "gone"
    assert found["k_m_per_s", "B3-3"]["after"] is None
    assert len([key for key in found if key[0] == "k_m_per_s"]) == 2
    assert found["field_data_count", "K"]["after"] == 8
    said = geoprofile("compare", ran_twice / "site.gpkg").stdout
    assert "k_m_per_s: 1 gone, 1 changed, 7 alike; largest: B1-1" in said


def test_another_file_and_a_run_by_number_say_the_same(ran_twice, geoprofile):
    """The figures kept of a run are those of the tables as they were."""
    site = ran_twice / "site.gpkg"
    runs = json.loads(geoprofile("show", site, "runs", "--format", "json").stdout)
    first, second = (str(r["run"]) for r in runs if "conductivity" in r["computed"])
    by_number = rows(geoprofile, site, first, second)
    assert by_number == rows(geoprofile, site)
    assert by_number == rows(geoprofile, site, "before.gpkg")
    assert rows(geoprofile, site, second) == {}
    assert "No key figure differs." in geoprofile("compare", site, second).stdout


def test_the_history_tells_commands_layers_and_unusual_settings(ran_twice, geoprofile):
    """One row per write; only what differs from the defaults is told of the settings."""
    names = "run,command,version,computed,settings,duration_s"
    answer = geoprofile(
        "show", ran_twice / "site.gpkg", "runs", "--columns", names, "--format", "json"
    )
    found = json.loads(answer.stdout)
    assert list(found[0]) == names.split(",")
    assert [r["run"] for r in found] == [1, 2, 3, 4]
    assert {r["command"] for r in found} == {"run"}
    assert "model" in found[1]["computed"]
    assert found[0]["settings"] == ""
    assert found[2]["settings"] == "prune=True"
    assert found[3]["settings"] == "consistency.head_difference_m=0.5"
    assert all(r["duration_s"] >= 0 for r in found)
    assert geoprofile("show", ran_twice / "site.gpkg", "runs", "--columns", "x").returncode == 1


def test_what_cannot_be_compared_is_told(ran_once, geoprofile):
    """One run only, a run that computed nothing, and what is neither run nor file."""
    site = ran_once / "site.gpkg"
    assert "expected two" in geoprofile("compare", site).stderr
    assert "run that computed something (2)" in geoprofile("compare", site, "1").stderr
    answer = geoprofile("compare", site, "elsewhere.gpkg")
    assert answer.returncode == 2
    assert "neither a run nor a file" in answer.stderr


def test_an_older_layout_can_be_compared_with(ran_once, geoprofile, kept):
    """The file of an earlier version is read as it is, and its items are matched by name.

    What it says of K may differ: methods have been improved since.
    """
    file = kept("site_layout_1_early")
    found = rows(geoprofile, ran_once / "site.gpkg", file)
    names = {f"B{hole}-{zone}" for hole in (1, 2, 3) for zone in (1, 2, 3)}
    changed = {item: row for (figure, item), row in found.items() if figure == "k_m_per_s"}
    assert changed.keys() <= names
    assert not [r for r in changed.values() if r["change"] in ("new", "gone")]
    # its own figures: with one K of it made thirty times larger, that one is said to differ
    with contextlib.closing(sqlite3.connect(file)) as other, other:
        register_functions(other)
        (old,) = other.execute(
            "SELECT k_m_per_s FROM interval_conductivity WHERE interval = 'B2-2'"
        ).fetchone()
        other.execute(
            "UPDATE interval_conductivity SET k_m_per_s = 30 * k_m_per_s WHERE interval = 'B2-2'"
        )
    said = rows(geoprofile, ran_once / "site.gpkg", file)["k_m_per_s", "B2-2"]
    assert said["before"] == pytest.approx(30 * old, rel=1e-5)  # six digits are shown


def test_changes_in_words():
    """Per cent below a factor of two, a factor above, the short way round for angles."""
    assert change("k_m_per_s", 1e-6, 1.1e-6) == "+10 %"
    assert change("k_m_per_s", 1e-6, 2.5e-7) == "x 0.25"
    assert change("azimuth_deg", 350.0, 10.0) == "+20 deg"
    assert change("gradient", 0.0, 0.01) == "+0.01"
    assert change("next_test", "B1", "B2") == "another"
    assert change("next_test", None, "B2") == "new"
    before = {"a_m": {"x": 1.0, "y": 2.0, "z": 3.0}}
    after = {"a_m": {"x": 1.5, "y": 2.0, "w": 9.0}}
    assert [row[1] for row in differences(before, after)] == ["x", "z", "w"]
    (line,) = words(before, after)
    assert line == "a_m: 1 new, 1 gone, 1 changed, 1 alike; largest: x, 1 to 1.5, +50 %."
