"""Times are kept in UTC with the offset at which they were written."""

from __future__ import annotations

from geoprofile.store import Store


def test_the_offset_that_was_read_is_kept(geoprofile, yard):
    """In the site's time zone, summer and winter, and as written with the time itself."""
    tests = yard / "tests.csv"
    text = tests.read_text()
    text = text.replace("2026-05-05T10:00", "2026-01-05T10:00", 1)  # winter in Rome: +01:00
    text = text.replace("2026-05-05T10:00", "2026-05-05T10:00-03:30", 1)
    text = text.replace("2026-05-05T10:00,", ",", 1)
    tests.write_text(text)
    site = yard / "site.gpkg"
    geoprofile("create", site, "--crs", "EPSG:32632")
    assert geoprofile("load", site, yard).returncode == 0
    rows = Store.open(site).rows("test", ["started_at", "started_at_offset"])
    assert rows[:4] == [
        ("2026-01-05T09:00:00Z", "+01:00"),
        ("2026-05-05T13:30:00Z", "-03:30"),
        (None, None),
        ("2026-05-05T08:00:00Z", "+02:00"),
    ]


def test_another_offset_for_the_same_moment_is_no_change(yard, geoprofile):
    """A file written anew in UTC brings no new rows."""
    site = yard / "site.gpkg"
    geoprofile("create", site, "--crs", "EPSG:32632")
    geoprofile("load", site, yard)
    tests = yard / "tests.csv"
    tests.write_text(tests.read_text().replace("2026-05-05T10:00", "2026-05-05T08:00Z"))
    answer = geoprofile("load", site, yard)
    assert answer.returncode == 0
    assert "test:" not in answer.stderr


def test_a_file_may_bring_the_offset(yard, geoprofile):
    """Tables written out from a site file carry times in UTC and the offset beside them."""
    tests = yard / "tests.csv"
    header, first, *rest = tests.read_text().splitlines()
    header += ",started_at_offset"
    first = first.replace("2026-05-05T10:00", "2026-05-05T08:00Z") + ",+02:00"
    tests.write_text("\n".join([header, first, *(r + "," for r in rest)]) + "\n")
    site = yard / "site.gpkg"
    geoprofile("create", site, "--crs", "EPSG:32632")
    assert geoprofile("load", site, yard).returncode == 0
    rows = Store.open(site).rows("test", ["started_at", "started_at_offset"])
    assert rows[0] == ("2026-05-05T08:00:00Z", "+02:00")
