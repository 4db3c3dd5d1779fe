"""Copies go to the field and come back through the real command and real files."""

from __future__ import annotations

import base64
import json
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from beside import module_of

from geoprofile.store import Store, inspect

Command = Callable[..., subprocess.CompletedProcess[str]]
NEW_SAMPLE = (
    "INSERT INTO sample (sample, interval, sampled_at) VALUES ('F1', ?, '2031-05-04T12:00:00.000Z')"
)
JPEG = b"\xff\xd8\xff\xe0 as much of a photo as its file is looked at"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory, command: Command) -> Path:
    """The small site of the fault tests, loaded."""
    folder = module_of("faults/small_site.py").write_small_site(
        tmp_path_factory.mktemp("field") / "site"
    )
    assert command("create", "site.gpkg", "--crs", "EPSG:32632", cwd=folder).returncode == 0
    assert command("load", "site.gpkg", ".", cwd=folder).returncode == 0
    return folder / "site.gpkg"


@pytest.fixture
def site(loaded: Path, tmp_path: Path) -> Path:
    """A copy of its site file."""
    return Path(shutil.copyfile(loaded, tmp_path / "site.gpkg"))


def edit(path: Path, sql: str, *values: Any) -> None:
    """As a GIS would."""
    connection = sqlite3.connect(path)
    with connection:
        connection.execute(sql, values)
    connection.close()


def zone(path: Path, name: str = "A1-1") -> dict[str, Any]:
    """Remarks and water level of a zone."""
    rows = Store.open(path).rows("interval", ["interval", "remarks", "static_depth_m"])
    return {n: (r, d) for n, r, d in rows}[name]


def taken(command: Command, site: Path, *boreholes: str) -> Path:
    """The GeoPackage of a new field copy."""
    answer = command("field", "out", "site.gpkg", *boreholes, cwd=site.parent)
    assert answer.returncode == 0, answer.stderr
    return next(site.parent / x for x in answer.stdout.splitlines() if x.endswith(".gpkg"))


def first_zone(path: Path, borehole: str = "A1") -> str:
    """The first interval of a borehole."""
    rows = Store.open(path).rows("interval", ["interval", "borehole"])
    return next(i for i, b in rows if b == borehole)


def test_two_tablets_and_an_office(command: Command, site: Path) -> None:
    """Different columns merge; one column changed twice is told with both values; in any order,
    and twice, the file is the same.
    """
    one, two = taken(command, site, "A1"), taken(command, site, "A1", "A2")
    name = first_zone(site)
    assert inspect(one) == []
    assert {b for (b,) in Store.open(one).rows("borehole", ["borehole"])} == {"A1"}
    where = "WHERE interval = ?"
    edit(one, f"UPDATE interval SET remarks = 'wet' {where}", name)
    edit(two, f"UPDATE interval SET remarks = 'dry', static_depth_m = 1.25 {where}", name)
    edit(site, f"UPDATE interval SET packer = packer, top_m = top_m + 0.25 {where}", name)
    found = []
    for order in ((one, two), (two, one, two), (one, one, two, one)):
        place = site.parent / "again.gpkg"
        shutil.copyfile(site, place)
        for file in order:
            answer = command("field", "in", place, file)
            assert answer.returncode == 0, answer.stderr
        marks = Store.open(place).fingerprints(["interval", "sample", "reading", "finding"])
        found.append((zone(place, name), marks, answer.stderr.splitlines()[-1]))
        assert inspect(place) == []
    assert found[0] == found[1] == found[2]
    assert found[0][0] == ("wet", 1.25)
    assert "remarks was changed twice: stored is 'wet', field copy 3 has 'dry'" in found[0][2]
    edit(place, f"UPDATE interval SET remarks = 'damp' {where}", name)
    answer = command("field", "in", place, one, two)
    assert "changed twice" not in answer.stderr
    assert zone(place, name) == ("damp", 1.25)
    assert Store.open(place).rows("finding", ["what"]) == []


def test_new_and_deleted_rows(command: Command, site: Path) -> None:
    """A sample added in the field is there; a row deleted there stays and is told; readings of a
    test of which one has changed are all there.
    """
    copy = taken(command, site, "A1")
    name = first_zone(site)
    readings = len(Store.open(site).rows("reading"))
    edit(copy, NEW_SAMPLE, name)
    edit(copy, "DELETE FROM result")
    edit(
        copy,
        "UPDATE reading SET displacement_m = displacement_m + 1 "
        "WHERE fid = (SELECT min(fid) FROM reading)",
    )
    results = len(Store.open(site).rows("result"))
    answer = command("field", "in", site, copy)
    assert answer.returncode == 0, answer.stderr
    assert ("F1", name) in Store.open(site).rows("sample", ["sample", "interval"])
    assert len(Store.open(site).rows("result")) == results
    assert "has deleted the row; it is kept" in answer.stderr
    assert len(Store.open(site).rows("reading")) == readings
    assert "reading: " in answer.stdout


def test_the_page_brings_what_it_saved(command: Command, site: Path) -> None:
    """Only boxes that were touched; no address outside; a file of it comes back like a copy."""
    copy = taken(command, site, "A1")
    page = copy.with_suffix(".html").read_text(encoding="utf-8")
    name = first_zone(site)
    assert not re.search(r"https?://|localStorage|src=", page)
    assert "Packers stand under pressure" in page
    assert page.count("Save this zone") == 3
    (mark,) = re.findall(r"data-copy='([^']+)'", page)
    photo = {"borehole": "A1", "interval": name, "taken_at": "2031-05-04T12:00:00Z"}
    photo |= {"what": "core box", "picture": base64.b64encode(JPEG).decode()}
    told = {"copy": mark, "rows": {"interval": [{"interval": name, "remarks": "by hand"}]}}
    saved = site.parent / "saved.json"
    before = zone(site, name), site.read_bytes()
    for wrong in ({"picture": "bm8gcGljdHVyZQ=="}, {"taken_at": "noon"}, {"interval": "../A1"}):
        saved.write_text(json.dumps({**told, "photos": [{**photo, **wrong}]}))
        assert command("field", "in", site, saved).returncode == 1
        assert site.read_bytes() == before[1]
    assert not list(site.parent.glob("photos_*"))
    saved.write_text(json.dumps({**told, "photos": [photo, {**photo, "what": ""}]}))
    assert command("field", "in", site, saved).returncode == 0
    assert zone(site, name) == ("by hand", before[0][1])
    ((path, *more),) = Store.open(site).rows("attachment", ["path", "what", "interval"])
    assert more == ["core box", name]
    assert (site.parent / path).read_bytes() == JPEG
    assert "No row was changed" in command("field", "in", site, saved).stderr
    # what the page does not have is not undone by it, nor the tablet's by the page
    edit(copy, "UPDATE interval SET static_depth_m = 2.5 WHERE interval = ?", name)
    assert command("field", "in", site, copy, saved).returncode == 0
    assert zone(site, name) == ("by hand", 2.5)


def test_photos_come_back(command: Command, site: Path) -> None:
    """With a row of the form or without one; once; never over another; a missing one is told."""
    copy = taken(command, site, "A1")
    (folder,) = copy.parent.glob("photos_*")
    for name in ("core.jpg", "loose.jpg", "taken.jpg"):
        (folder / name).write_bytes(name.encode())
    theirs = site.parent / folder.name / "taken.jpg"
    theirs.parent.mkdir()
    theirs.write_bytes(b"of the office")
    row = "INSERT INTO attachment (path, what, borehole) VALUES (?, ?, 'A1')"
    edit(copy, row, f"{folder.name}/core.jpg", "core box 3")
    edit(copy, row, f"{folder.name}/lost.jpg", "casing")
    edit(copy, row, "../site.toml", "not inside")
    for _ in range(2):
        answer = command("field", "in", site, copy)
        assert answer.returncode == 0, answer.stderr
        assert f"{folder.name}/lost.jpg: not brought: no such file" in answer.stderr
        assert "site.toml: not brought: a path that leaves the folder" in answer.stderr
        assert f"{folder.name}/taken.jpg: not copied: another file" in answer.stderr
        assert theirs.read_bytes() == b"of the office"
    rows = dict(Store.open(site).rows("attachment", ["path", "what"]))
    assert {Path(p).name for p in rows} == {"core.jpg", "loose.jpg", "taken.jpg"}
    assert rows[f"{folder.name}/core.jpg"] == "core box 3"
    assert "not described" in rows[f"{folder.name}/loose.jpg"]
    assert (site.parent / folder.name / "core.jpg").read_bytes() == b"core.jpg"
    assert len(Store.open(site).rows("finding", ["what"])) == 3
    shutil.rmtree(folder)  # the photos are in the site folder by now
    answer = command("field", "in", site, copy)
    assert "deleted" not in answer.stderr
    assert inspect(site) == []


def test_what_is_no_copy_of_it_is_refused(command: Command, site: Path, tmp_path: Path) -> None:
    """Another site's, a site file, a broken page, a borehole that is not there: nothing changes."""
    before = site.read_bytes()
    (tmp_path / "broken.json").write_text('{"copy": "1-0", "rows": {"nothing": [{}]}}')
    (tmp_path / "strange.json").write_text('{"copy": "9-00000000", "rows": {}}')
    for words, said in (
        (("in", site, tmp_path / "broken.json"), "Save it again from the page"),
        (("in", site, tmp_path / "strange.json"), "the site file that it was taken from"),
        (("in", site, site), "a site file that is no field copy"),
        (("out", site, "B7"), "found borehole 'B7', expected one of A1, A2, A3, A4"),
    ):
        answer = command("field", *words, cwd=tmp_path)
        assert answer.returncode in (1, 2)
        assert said in answer.stderr
        assert "Traceback" not in answer.stderr
    assert site.read_bytes() == before
