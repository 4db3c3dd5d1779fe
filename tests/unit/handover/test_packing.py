"""The package as a whole."""

import hashlib
from dataclasses import replace

import pytest

from geoprofile.engine.rows import frame
from geoprofile.errors import DataErrors, UsageError
from geoprofile.handover import hand_over


def test_package_is_whole_and_its_sums_hold(small_site, tmp_path):
    """Layers, report, words, attachment and losses; every sum is that of its file."""
    out = tmp_path / "out"
    done = hand_over(small_site, out, formats=["geopackage", "csv", "geojson"])
    assert {"README.txt", "report.html", "attachments/photos/core.png"} <= set(done.files)
    assert {"geopackage/Small_yard.gpkg", "csv/borehole.csv", "geojson/losses.txt"} <= set(
        done.files
    )
    assert sorted(p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()) == list(
        done.files
    )
    for line in (out / "checksums.sha256").read_text().splitlines():
        digest, name = line.split("  ", 1)
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest


def test_readme_names_systems_dates_and_cautions(small_site, tmp_path):
    """CRS with its name, vertical datum, days of sampling, units and cautions."""
    hand_over(small_site, tmp_path / "out", formats=["csv"])
    words = (tmp_path / "out" / "README.txt").read_text("utf-8")
    for part in (
        "EPSG:32628 (WGS 84 / UTM zone 28N)",
        "yard datum",
        "2031-05-01",
        "ground_elevation_m [m]",
        "can injure",
        "licensed professional",
    ):
        assert part in words


def test_an_older_handover_is_replaced_only_when_asked(small_site, tmp_path):
    """And a folder that is no hand-over never is."""
    out, other = tmp_path / "out", tmp_path / "other"
    hand_over(small_site, out, formats=["csv"])
    with pytest.raises(UsageError, match="--overwrite"):
        hand_over(small_site, out, formats=["csv"])
    hand_over(small_site, out, formats=["geopackage"], overwrite=True)
    assert not (out / "csv").exists()
    other.mkdir()
    (other / "mine.txt").write_text("x")
    with pytest.raises(UsageError, match="no hand-over"):
        hand_over(small_site, other, overwrite=True)
    assert (other / "mine.txt").read_text() == "x"


def test_strict_leaves_nothing_when_something_is_lost(small_site, tmp_path):
    """GeoJSON cannot carry tables without shapes: refused, and no folder appears."""
    with pytest.raises(DataErrors, match="dropped"):
        hand_over(small_site, tmp_path / "out", formats=["geojson"], strict=True)
    assert not (tmp_path / "out").exists()
    assert not list(tmp_path.glob(".being-written*"))


@pytest.mark.parametrize("name", ["../secret.txt", "/etc/hostname", "a\\b", "nul.txt", "link.txt"])
def test_attachments_never_leave_the_folder(small_site, tmp_path, name):
    """A path, a device or a link that leads out is refused (CWE-22), and nothing is handed over."""
    (tmp_path / "secret.txt").write_text("secret")
    (tmp_path / "site" / "link.txt").symlink_to(tmp_path / "secret.txt")
    rows = frame("attachment", [{"path": name, "what": "x"}], small_site.crs)
    with pytest.raises(DataErrors, match="attachment"):
        hand_over(small_site.with_tables({"attachment": rows}), tmp_path / "out", formats=["csv"])
    assert not (tmp_path / "out").exists()


def test_an_unknown_format_or_setting_is_answered_with_names(small_site, tmp_path):
    """The names there are stand in the message."""
    with pytest.raises(UsageError, match="geopackage"):
        hand_over(small_site, tmp_path / "out", formats=["geopackag"])
    with pytest.raises(UsageError, match="excel_safe"):
        hand_over(small_site, tmp_path / "out", formats=["csv"], overrides={"csv.excel": "true"})


def test_settings_reach_the_format(small_site, tmp_path):
    """A setting of site.toml is used: one table only."""
    site = replace(small_site, settings={"csv": {"tables": ["borehole"]}})
    done = hand_over(site, tmp_path / "out", formats=["csv"])
    assert {n for n in done.files if n.startswith("csv/")} == {
        "csv/borehole.csv",
        "csv/borehole.csvt",
        "csv/data_dictionary.csv",
        "csv/datapackage.json",
        "csv/losses.txt",
    }
