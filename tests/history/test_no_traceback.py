"""Whatever goes wrong ends in one message and a documented exit code; nothing half-made stays."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from other_hand import ROOT, geoprofile_words, run_words

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no limits and no /dev/full there")


@pytest.fixture(scope="module")
def site(ran_once, tmp_path_factory):
    """The folder of the small site after one run. Treat it as read-only."""
    return shutil.copytree(ran_once, tmp_path_factory.mktemp("site") / "ran")


@pytest.mark.parametrize(
    "words",
    [
        ("templates", "blank"),
        ("create", "new.gpkg", "--crs", "EPSG:32632"),
        ("report", "site.gpkg", "page.html"),
        ("plan", "site.gpkg", "B1", "--folder", "plans"),
        ("handover", "site.gpkg", "package"),
        ("conductivity", "site.gpkg", "--again"),
        ("conductivity", "site.gpkg", "--figures", "drawn"),
        ("run", "."),
    ],
    ids=lambda words: " ".join(words[:1]),
)
def test_a_full_disk_is_code_4_and_leaves_nothing(site, tmp_path, command, monkeypatch, words):
    """One message, no traceback, and every file as before."""
    folder = shutil.copytree(site, tmp_path / "site")
    if words[0] == "run":
        shutil.rmtree(folder / "out")
    if words[0] == "plan":
        (folder / "packers.csv").write_text(PACKERS)
        (folder / "spacers.csv").write_text("spacer,open_length_m\nS,2.0\n")
        assert command("load", folder / "site.gpkg", folder).returncode == 0
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    # what the drawing library keeps for itself lies beside the folder
    monkeypatch.setenv("MPLCONFIGDIR", str(tmp_path))
    answer = command(*words, cwd=folder, bytes_a_file=600)
    assert answer.returncode == 4, answer.stderr
    assert "Traceback" not in answer.stderr
    assert len([x for x in answer.stderr.splitlines() if x.startswith("error: ")]) == 1
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


PACKERS = (
    "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,seating_pressure_kpa,"
    "max_inflation_kpa,max_depth_m,max_submergence_m,pipe_inner_diameter_mm,gas_or_water\n"
    "P,72,76,122,1.0,350,2400,120,100,38,gas\n"
)


@pytest.mark.parametrize(
    "words",
    [("show", "site.gpkg", "reading"), ("check", "damaged.gpkg", "--format", "csv")],
    ids=lambda words: words[0],
)
def test_a_full_output_is_code_4(site, tmp_path, words):
    """What cannot be printed is told, and the exit code says so, also of a damaged file."""
    shutil.copy(site / "site.gpkg", tmp_path)
    (tmp_path / "damaged.gpkg").write_bytes(b"x" * 5000)
    with Path("/dev/full").open("w") as full:
        answer = subprocess.run(
            geoprofile_words(*words),
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
    assert answer.returncode == 4, answer.stderr
    assert answer.stderr.count("error: ") == 1
    assert "Traceback" not in answer.stderr
    assert "Exception ignored" not in answer.stderr


@pytest.mark.parametrize("form", ["table", "csv", "json"])
def test_that_a_file_is_sound_is_printed_or_code_4(site, geoprofile, monkeypatch, form):
    """The verdict of `check` is its output: it reaches whoever keeps it, or is told as missing."""
    words = ("check", site / "site.gpkg", "--format", form)
    meant = {"table": f"{site / 'site.gpkg'}: sound.", "json": "[]"}
    heading = "code,severity,place,what,what_to_do"
    assert geoprofile(*words).stdout.strip() == meant.get(form, heading)
    with Path("/dev/full").open("w") as full:
        monkeypatch.setattr(sys, "stdout", full)
        answer = geoprofile(*words)
    assert answer.returncode == 4
    assert answer.stderr.count("error: ") == 1


@pytest.mark.parametrize("content", ["", "[1]", "{", "[" * 100000, "\udcff"])
def test_corrupt_fingerprints_of_a_review_are_told(tmp_path, content):
    """Not JSON, a list, too deep, no text: one message, code 1."""
    (tmp_path / "inputs").mkdir()
    place = tmp_path / "fingerprints.json"
    place.write_bytes(content.encode(errors="surrogateescape"))
    answer = run_words(geoprofile_words("reproduce", tmp_path))
    assert answer.returncode == 1, answer.stderr
    assert answer.stderr.startswith("error: ")
    assert "Traceback" not in answer.stderr


@pytest.mark.parametrize(
    "line", ['database = "a\\u0000b"', f'database = "{"n" * 300}.gpkg"', "x = " + "[" * 100000]
)
def test_an_absurd_site_toml_is_told(tmp_path, line):
    """A name that no disk takes, and nesting that no reader follows."""
    (tmp_path / "site.toml").write_text(f'crs = "EPSG:32632"\n{line}\n')
    answer = run_words(geoprofile_words("run", tmp_path))
    assert answer.returncode == 1, answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_missing_file_is_usage_and_a_corrupt_one_is_damage(tmp_path):
    """2 for what is not there, 5 only for what is there and damaged."""
    for words in (("show", tmp_path / "no.gpkg", "borehole"), ("check", tmp_path / "no.gpkg")):
        answer = run_words(geoprofile_words(*words))
        assert answer.returncode == 2, answer.stderr
    (tmp_path / "bad.gpkg").write_bytes(b"x" * 5000)
    answer = run_words(geoprofile_words("show", tmp_path / "bad.gpkg", "borehole"))
    assert answer.returncode == 5


def test_a_fault_of_the_program_leaves_a_file_without_data(tmp_path):
    """Code 6, one message, and a file that says where, not with what."""
    script = (
        "import sys\nfrom geoprofile.cli import main\nimport geoprofile.app as w\n"
        "def fail(*a, **k):\n    raise KeyError('secret value')\n"
        "w.show = fail\nsys.argv = ['geoprofile', 'show', 'secret.gpkg', 'runs']\nmain()\n"
    )
    for full in ("0", "1"):
        answer = subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT), "GEOPROFILE_CRASH_DETAILS": full},
        )
        assert answer.returncode == 6, answer.stderr
        assert "Traceback" not in answer.stderr
        (left,) = tmp_path.glob("geoprofile-crash-*.txt")
        assert left.name in answer.stderr
        text = left.read_text()
        assert "geoprofile/cli/show.py" in text
        assert ("secret" in text) == (full == "1")
        left.unlink()


def test_rows_in_a_folder_whose_name_is_no_text_are_stored(site, tmp_path, command):
    """No false alarm: the rows are there, and the remark says what was not compared."""
    folder = tmp_path / os.fsdecode(b"caf\xe9")
    shutil.copytree(site, folder)
    holes = folder / "boreholes.csv"
    holes.write_text(holes.read_text().replace(",25,", ",26,", 1))
    answer = command("load", folder / "site.gpkg", folder)
    assert answer.returncode == 0, answer.stderr
    assert "the rows are stored" in answer.stderr
    answer = run_words(
        geoprofile_words("show", folder / "site.gpkg", "borehole", "--format", "json")
    )
    assert json.loads(answer.stdout)[0]["depth_m"] == 26
