"""What is marked private stays at home."""

import pytest

from geoprofile.errors import DataErrors, UsageError
from geoprofile.handover import hand_over, without_private
from geoprofile.intake import read_settings


def test_private_tables_and_columns_are_gone(with_private):
    """The table, the column, findings about them and the settings are not in what leaves."""
    public = without_private(with_private("sample", "borehole.remarks"))
    assert "sample" not in public.tables
    assert "remarks" not in public.table("borehole").columns
    assert public.table("finding").empty
    assert public.settings == {}
    assert "settings" not in public.table("run").columns


def test_files_of_private_tables_are_not_named(with_private):
    """Neither in the list of files nor in the inputs of a run."""
    public = without_private(with_private("sample"))
    assert list(public.table("source_file")["source_file"]) == ["boreholes.csv"]
    assert "samples.csv" not in public.table("run")["inputs"].iloc[0]


@pytest.mark.parametrize(
    "name", ["boreholes", "borehole.remark", "borehole.x", "borehole.ground_elevation_m"]
)
def test_a_slip_in_a_name_stops_everything(with_private, name):
    """A wrong name, or a coordinate that shapes would show anyway, hands nothing over."""
    with pytest.raises(DataErrors, match="private"):
        without_private(with_private(name))


def test_nothing_private_is_in_any_file(with_private, tmp_path):
    """The bytes of the whole package hold neither the text nor the sample's name."""
    done = hand_over(
        with_private("sample", "borehole.remarks"),
        tmp_path / "out",
        formats=["geopackage", "csv", "geojson", "shapefile", "dxf"],
    )
    for name in done.files:
        content = (tmp_path / "out" / name).read_bytes()
        assert b"secret" not in content, name
        assert b"s-1" not in content, name


def test_review_refuses_private_data(with_private, tmp_path):
    """A review takes the input files whole, so nothing in them may be private."""
    with pytest.raises(UsageError, match="private"):
        hand_over(with_private("sample"), tmp_path / "out", review=True)
    assert not (tmp_path / "out").exists()


def test_site_toml_may_mark_what_is_private(tmp_path):
    """The settings of the command are read, stored, and found again by their name."""
    text = 'crs = "EPSG:32628"\n[handover]\nprivate = ["borehole.remarks"]\n'
    text += "[csv]\nexcel_safe = false\n"
    (tmp_path / "site.toml").write_text(text)
    settings = read_settings(tmp_path)
    assert settings.settings["handover"] == {"private": ["borehole.remarks"]}
    assert settings.settings["csv"] == {"excel_safe": False}
