"""The project for the GIS over time: every run keeps it, none writes over the user's changes."""

from __future__ import annotations

import shutil
import zipfile

import pytest

from geoprofile.store import Store
from geoprofile.store.projects import stored_project

pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def ran(ran_once, tmp_path):
    """The folder of the small site after one run."""
    return shutil.copytree(ran_once, tmp_path / "ran")


def test_a_run_writes_the_project_and_the_next_one_follows_the_layers(ran, geoprofile, edit):
    """A borehole elsewhere makes another plan."""
    project = ran / "site.qgz"
    first = project.read_bytes()
    assert stored_project(ran / "site.gpkg", "site") == first
    edit(ran / "site.gpkg", "UPDATE borehole SET x = x - 300 WHERE borehole = 'B1'")
    answer = geoprofile("run", ran)
    assert answer.returncode == 0, answer.stderr
    assert project.read_bytes() != first  # the plan is drawn at another scale
    assert geoprofile("check", ran / "site.gpkg").returncode == 0


def test_a_changed_project_stays_and_is_told(ran, geoprofile, edit):
    """The run says so, the command refuses, and keeps the changed one when told to go on."""
    project, site = ran / "site.qgz", ran / "site.gpkg"
    with zipfile.ZipFile(project, "w") as archive:
        archive.writestr("site.qgs", "<qgis><title>mine</title></qgis>")
    mine = project.read_bytes()
    edit(site, "UPDATE test SET status = 'exclude' WHERE test = 'TB1-2'")
    answer = geoprofile("run", ran)
    assert answer.returncode == 0
    assert "site.qgz was changed in the GIS and stays" in answer.stderr
    assert project.read_bytes() == mine
    refused = geoprofile("project", site)
    assert refused.returncode == 2
    assert "--overwrite" in refused.stderr
    done = geoprofile("project", site, "--overwrite")
    assert done.returncode == 0
    assert done.stdout.strip() == str(project)
    (kept,) = ran.glob("site.before-*.qgz")
    assert kept.read_bytes() == mine
    assert "up to date" in geoprofile("project", site).stderr


def test_a_project_of_what_is_no_site_is_refused(tmp_path, geoprofile):
    """A missing file, a folder and a text."""
    (tmp_path / "notes.txt").write_text("a text")
    for name in ("missing.gpkg", ".", "notes.txt"):
        answer = geoprofile("project", tmp_path / name)
        assert answer.returncode not in (0, 1), name
        assert "Traceback" not in answer.stderr
    assert not list(tmp_path.glob("*.qgz"))


def test_a_new_site_has_forms_in_its_project(tmp_path, geoprofile):
    """A file just created can be opened and filled in."""
    site = tmp_path / "new.gpkg"
    geoprofile("create", site, "--crs", "EPSG:32632")
    assert geoprofile("project", site).returncode == 0
    with zipfile.ZipFile(tmp_path / "new.qgz") as archive:
        text = archive.read("new.qgs").decode()
    assert "./new.gpkg|layername=borehole" in text
    assert "fieldConfiguration" in text
    assert Store.open(site).rows("borehole") == []
