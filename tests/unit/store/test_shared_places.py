"""Network shares and synchronised folders: what endangers a site file there is noticed and told."""

from __future__ import annotations

import os
import shutil
import sys

import pytest

from geoprofile import app
from geoprofile.store import Store, inspect, shared_places
from geoprofile.store.shared_places import (
    Disk,
    advice,
    conflict_copies,
    disk_of,
    locks_hold,
    notices,
    synchronised,
)

linux = pytest.mark.skipif(sys.platform != "linux", reason="the list of disks is Linux's")


@pytest.fixture
def mounted(tmp_path, monkeypatch):
    """Pretend that the folder lies on a disk of that kind, as the system would list it."""

    def mount(kind, options="rw"):
        listed = tmp_path / "mounts"
        place = str(tmp_path / "a share").replace(" ", r"\040")
        lines = (
            "/dev/vda / ext4 rw",
            f"srv:/x {place} autofs rw",
            f"srv:/x {place} {kind} {options}",
        )
        listed.write_text("".join(f"{line} 0 0\n" for line in lines))
        monkeypatch.setattr(shared_places, "MOUNTS", listed)
        folder = tmp_path / "a share" / "site"
        folder.mkdir(parents=True)
        return folder

    return mount


@linux
@pytest.mark.parametrize("kind", ["nfs4", "cifs", "fuse.sshfs"])
def test_a_share_is_told_when_a_site_file_is_made_there_and_by_check(mounted, kind):
    """Once: opening it later says nothing, as the locks hold."""
    site = mounted(kind) / "site.gpkg"
    (said,) = app.create(site, crs="EPSG:32632").remarks
    assert f"network share ({kind} at " in said
    assert "one program at a time" in said
    assert Store.open(site).remarks == ()
    assert [f.code for f in inspect(site) if f.severity == "warning"] == ["place"]
    assert [p.name for p in site.parent.iterdir()] == ["site.gpkg"]


@linux
@pytest.mark.parametrize(
    ("kind", "options"), [("nfs", "rw,nolock"), ("nfs4", "local_lock=all"), ("cifs", "rw,nobrl")]
)
def test_locks_that_stay_on_this_machine_are_told_each_time(mounted, kind, options):
    """As nfs(5) and mount.cifs(8) describe these options: the server does not hear of a lock."""
    site = mounted(kind, options) / "site.gpkg"
    app.create(site, crs="EPSG:32632")
    for _ in range(2):
        (said,) = Store.open(site).remarks
        assert "locks do not hold" in said


@linux
def test_a_lock_is_tried_out_where_the_disk_is_not_known(mounted, monkeypatch):
    """A disk that lets the second hand lock as well, and one that knows no locks."""
    import errno
    import fcntl

    folder = mounted("fuse.made_up")
    assert locks_hold(folder, Disk("/", "fuse.made_up"))
    assert notices(folder / "site.gpkg") == ()
    monkeypatch.setattr(fcntl, "fcntl", lambda *words: b"")
    assert not locks_hold(folder, Disk("/", "fuse.made_up"))
    assert "locks do not hold" in str(notices(folder / "site.gpkg")[0])

    def refuse(*words):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "fcntl", refuse)
    assert not locks_hold(folder, Disk("/", "fuse.made_up"))
    assert list(folder.iterdir()) == []


@linux
def test_the_disk_is_the_last_one_mounted_there(mounted):
    """Names with spaces are read, and the longest place counts."""
    folder = mounted("nfs4")
    assert disk_of(folder).kind == "nfs4"
    assert disk_of(folder).place.endswith("a share")
    assert disk_of(folder.parent.parent).kind == "ext4"
    assert not disk_of(folder.parent.parent).is_share


def test_this_disk_needs_no_advice(tmp_path):
    """No false alarm where the tests run, unless that is a share."""
    disk = disk_of(tmp_path)
    if disk is not None and disk.kind in shared_places.LOCAL:
        assert advice(tmp_path / "site.gpkg") == notices(tmp_path / "site.gpkg") == ()


@pytest.mark.parametrize("name", ["OneDrive - made up", "Dropbox", "Google Drive", "Nextcloud2"])
def test_a_synchronised_folder_is_told_once(tmp_path, name):
    """By its name; a name that only begins alike is left alone."""
    folder = tmp_path / name / "sites"
    folder.mkdir(parents=True)
    is_told = not name.endswith("2")
    remarks = app.create(folder / "site.gpkg", crs="EPSG:32632").remarks
    assert [name in said for said in remarks] == [True] * is_told
    assert Store.open(folder / "site.gpkg").remarks == ()


def test_a_synchronised_folder_is_known_by_its_mark(tmp_path):
    """A hidden folder that the synchronising program keeps."""
    (tmp_path / "work" / ".stfolder").mkdir(parents=True)
    (tmp_path / "work" / "a").mkdir()
    assert synchronised(tmp_path / "work" / "a") == "work"
    assert synchronised(tmp_path) == ""


COPIES = (
    "site (conflicted copy 2026-05-05).gpkg",
    "site.sync-conflict-20260505-101500-ABCDEFG.gpkg",
    "site_conflict-20260505-101500.gpkg",
    "site-DESKTOP-1AB2C3D.gpkg",
    "site (1).gpkg",
)


@pytest.mark.parametrize("name", COPIES)
def test_a_copy_made_of_two_hands_work_is_told_at_every_opening(tmp_path, name):
    """It may hold rows that are missing here, so it is named until it is gone."""
    site = tmp_path / "site.gpkg"
    app.create(site, crs="EPSG:32632")
    shutil.copy(site, tmp_path / name)
    (said,) = Store.open(site).remarks
    assert said.startswith(name)
    assert "may be missing here" in said
    assert [f.code for f in inspect(site) if f.severity == "warning"] == ["place"]
    (tmp_path / name).unlink()
    assert Store.open(site).remarks == ()


def test_other_files_beside_are_no_conflict(tmp_path):
    """Safety copies, other sites and files of other kinds."""
    names = (
        "site.before-prune-20260505T101500123.gpkg",
        "site2.gpkg",
        "site (1).csv",
        "sites.gpkg",
    )
    for name in (*names, "site-north.gpkg", "conflict.gpkg"):
        (tmp_path / name).write_bytes(b"")
    assert conflict_copies(tmp_path / "site.gpkg") == ()
    assert conflict_copies(tmp_path / "nowhere" / "site.gpkg") == ()


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_copied_or_linked_site_file_is_replaced_where_it_really_lies(tmp_path):
    """`create --overwrite` on a link: the file itself is new, and the link is still one."""
    real, link = tmp_path / "real.gpkg", tmp_path / "site.gpkg"
    app.create(real, crs="EPSG:32632", name="old")
    link.symlink_to(real)
    app.create(link, crs="EPSG:32633", name="new", overwrite=True)
    assert link.is_symlink()
    assert Store.open(real).settings()["crs"] == "EPSG:32633"
