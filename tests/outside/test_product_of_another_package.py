"""A product that comes with another package is as able as ours once pip has installed it."""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path

import fiona
import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PACKAGE = "untested_length"
FILES = {
    "site.toml": 'crs = "EPSG:32632"\nname = "made-up pair"\n',
    "boreholes.csv": "borehole,x,y,ground_elevation_m,depth_m\n"
    "H1,500000,5300000,100,30\nH2,500040,5300010,99,30\n",
    "construction.csv": "borehole,top_m,bottom_m,kind,diameter_mm\n"
    "H1,0,4,casing,104\nH1,4,30,open hole,96\nH2,4,30,open hole,96\n",
    # of 26 m open: gaps of 6, 0.4 and 13.6 m in H1; all of H2
    "intervals.csv": "interval,borehole,top_m,bottom_m,isolation\n"
    "a,H1,10,12,straddle\nb,H1,12.4,16.4,straddle\n",
}
MANY = """
import json, sys
from geoprofile.cli import main
for words in json.loads(sys.argv[1]):
    sys.argv[1:] = words
    print(f"<{words[0]}>", flush=True)
    if code := main():
        sys.exit(code)
"""  # several commands in one process, which imports the libraries once


def _python(*words: object, path: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(path), str(ROOT)))},
    )


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder into which pip has installed the package, without any network."""
    place = tmp_path_factory.mktemp("installed")
    source = shutil.copytree(HERE / PACKAGE, place / "source")
    how = ("--no-index", "--no-build-isolation", "--no-deps", "--quiet")
    into = place / "packages"
    done = _python("-m", "pip", "install", *how, "--target", into, source, path=into)
    assert done.returncode == 0, done.stderr
    return into


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site of two boreholes, run before the package was there."""
    folder = tmp_path_factory.mktemp("site") / "pair"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    done = _python("-m", "geoprofile", "run", folder, path=ROOT)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def said(installed: Path, folder: Path) -> str:
    """The closing words of a run with the package."""
    done = _python("-m", "geoprofile", "run", folder, path=installed)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def answers(said: str, installed: Path, folder: Path) -> dict[str, str]:
    """What the other commands print with the package, the setting given on the command line."""
    site, beside = _site(folder), folder.parent
    commands = (
        ("run", folder, "--set", f"{PACKAGE}.least_gap_m=0.3"),
        ("show", site, PACKAGE, "--format", "json"),
        ("explain", f"{PACKAGE}.gap_count"),
        ("plugins", "layers"),
        ("report", site, beside / "report.html"),
        ("handover", site, beside / "package", "--formats", "csv"),
        ("check", site),
    )
    words = json.dumps([[str(w) for w in command] for command in commands])
    done = _python("-c", MANY, words, path=installed)
    assert done.returncode == 0, done.stderr
    parts = re.split(r"^<([a-z]+)>\n", done.stdout, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True)) | {"remarks": done.stderr}


def _site(folder: Path) -> Path:
    (found,) = folder.glob("*.gpkg")
    return found


def _rows(folder: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(_site(folder))) as connection:
        return connection.execute(query, (PACKAGE,)).fetchall()


def test_a_run_computes_draws_and_tells_it_though_no_file_changed(said: str, folder: Path) -> None:
    """The run after the installation has the sentence and the figure."""
    assert "Untested: 26.0 m in H2" in said
    assert (folder / "out" / "untested_length.png").stat().st_size > 5000


def test_its_table_is_computed_with_the_setting_of_the_command_line(
    answers: dict[str, str],
) -> None:
    """By hand: of 26 m, gaps of 6, 0.4 and 13.6 m are left in H1 when 0.3 m count, all of H2."""
    shown = {row.pop("borehole"): row for row in json.loads(answers["show"])}
    assert shown["H1"]["untested_m"] == pytest.approx(20.0)
    assert {hole: row["gap_count"] for hole, row in shown.items()} == {"H1": 3, "H2": 1}
    assert "least_gap_m" in answers["plugins"]


def test_a_setting_out_of_its_limits_is_refused(installed: Path, folder: Path) -> None:
    """With the name of the setting and what is allowed."""
    wrong = ("run", folder, "--set", f"{PACKAGE}.least_gap_m=-1")
    done = _python("-m", "geoprofile", *wrong, path=installed)
    assert done.returncode == 2
    assert "least_gap_m" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_dictionary_the_style_and_the_project_have_it(
    answers: dict[str, str], folder: Path
) -> None:
    """Meaning and unit in the file and in `explain`; its symbol in the file and in the project."""
    assert "sound" in answers["check"]
    assert "Number of such gaps" in answers["explain"]
    meant = dict(
        _rows(folder, "SELECT column_name, title FROM gpkg_data_columns WHERE table_name = ?")
    )
    assert meant["open_m"] == "Length of open hole and screens"
    ((style,),) = _rows(folder, "SELECT styleQML FROM layer_styles WHERE f_table_name = ?")
    assert "untested_m" in str(style)  # the label of its look
    with zipfile.ZipFile(next(folder.glob("*.qgz"))) as project:
        text = project.read(next(n for n in project.namelist() if n.endswith(".qgs"))).decode()
    assert f"layername={PACKAGE}" in text
    assert 'name="Coverage"' in text  # its group
    with fiona.open(_site(folder), layer=PACKAGE) as layer:
        assert layer.schema["geometry"] == "3D Point"
        assert len(layer) == 2


def test_report_and_hand_over_hold_it(answers: dict[str, str], folder: Path) -> None:
    """A part of the report, escaped; a file and its columns in the package."""
    text = (folder.parent / "report.html").read_text(encoding="utf-8")
    assert '<section id="product-untested"' in text
    assert "Untested &lt;length&gt;" in text
    assert "Gaps of 0.3 m or more" in text
    package = folder.parent / "package"
    assert (package / "csv" / f"{PACKAGE}.csv").exists()
    about = (package / "README.txt").read_text(encoding="utf-8")
    assert "untested_m [m]: Length of it in gaps that no zone covers" in about


def test_without_the_package_the_file_is_sound_and_runs(
    answers: dict[str, str], folder: Path
) -> None:
    """Who does not have it reads the site as ever; its table stays as it is."""
    words = json.dumps([["check", str(_site(folder))], ["run", str(folder)]])
    done = _python("-c", MANY, words, path=ROOT)
    assert done.returncode == 0, done.stderr
    assert "sound" in done.stdout
    assert "Untested" not in done.stdout
    assert PACKAGE in fiona.listlayers(_site(folder))
