"""site.toml: few keys, each checked, an unknown one answered with the nearest known."""

from __future__ import annotations

import pytest

from geoprofile import intake
from geoprofile.errors import GeoprofileError


def settings(tmp_path, text: str):
    """What a folder with this site.toml says."""
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    return intake.read_settings(tmp_path)


def test_everything_has_a_default_but_the_crs(tmp_path):
    """One line is enough; the name of the folder names the site."""
    said = settings(tmp_path, 'crs = "EPSG:32632"')
    assert said.name == tmp_path.name
    assert (said.database, said.time_zone, said.depth_from) == ("site.gpkg", "UTC", "ground")


def test_declarations_and_steps_are_kept(tmp_path):
    """Declarations of intake become attributes, tables of steps stay as they are."""
    text = (
        'crs = "EPSG:32632"\ndate_format = "%d.%m.%Y"\n[intake]\ndecimal = ","\n'
        'extra_columns = ["driller"]\n[map_band]\nelevations_m = [90]\n'
    )
    said = settings(tmp_path, text)
    assert said.date_format == ("%d.%m.%Y",)
    assert (said.decimal, said.extra_columns) == (",", ("driller",))
    assert said.settings == {"map_band": {"elevations_m": [90]}}


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ('vertical_datm = "x"', "vertical_datum"),
        ("[mapband]\na = 1", "map_band"),
        ('[intake]\ndecimals = ","', "intake.decimal"),
        ('[intake]\ndecimal = "x"', "decimal"),
        ('depth_from = "sea"', "measuring point"),
        ('time_zone = "Europe/Berlinn"', "Europe/Berlin"),
        ("time_zone = 1", "time_zone"),
        ('database = "../other.gpkg"', "plain file name"),
        ('[intake]\nencoding = "latin-17"', "encoding"),
        ("[intake]\nmax_rows = -1", "max_rows"),
        ("[intake]\nmax_rows = true", "max_rows"),
        ("[intake]\nextra_columns = [1]", "extra_columns"),
        ("name = 5", "name"),
        ('name = ""', "name"),
        ("crs = EPSG", "TOML"),
    ],
)
def test_wrong_lines_are_told(tmp_path, line, word):
    """A wrong key or value is told with what is allowed."""
    with pytest.raises(GeoprofileError) as caught:
        settings(tmp_path, 'crs = "EPSG:32632"\n' + line if "crs" not in line else line)
    assert len(caught.value.problems) == 1
    assert word in str(caught.value)


def test_missing_file_is_told(tmp_path):
    """A folder without site.toml is told what to write."""
    with pytest.raises(GeoprofileError, match=r"site\.toml"):
        intake.read_settings(tmp_path)


def test_files_are_found_in_singular_and_plural(tmp_path):
    """Case, plural and hyphens do not matter; other files are left alone."""
    for name in ("Borehole.csv", "water-levels.csv", "criteria.csv", "notes.txt", "columns.csv"):
        (tmp_path / name).write_text("a\n", encoding="utf-8")
    found = {f.name: f.table for f in intake.find_files(tmp_path)}
    assert found == {
        "Borehole.csv": "borehole",
        "criteria.csv": "criterion",
        "water-levels.csv": "water_level",
    }


def test_near_misses_are_told(tmp_path):
    """A file whose name is nearly that of a table is told, for it is not read."""
    (tmp_path / "borehols.csv").write_text("a\n", encoding="utf-8")
    (problem,) = intake.unread(tmp_path, (), intake.SiteSettings("EPSG:32632"))
    assert "boreholes.csv" in problem.advice


def test_single_file_without_a_table_is_told(tmp_path):
    """A file given by name must fill a table."""
    path = tmp_path / "borehols.csv"
    path.write_text("a\n", encoding="utf-8")
    with pytest.raises(GeoprofileError, match="boreholes"):
        intake.find_files(tmp_path, only=path)
    with pytest.raises(GeoprofileError, match="no such file"):
        intake.find_files(tmp_path, only=tmp_path / "boreholes.csv")
