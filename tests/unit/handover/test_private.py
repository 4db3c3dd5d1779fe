"""What is marked private stays at home."""

import pytest

from geoprofile.errors import DataErrors, UsageError
from geoprofile.handover import hand_over, without_private
from geoprofile.handover.shown import still_showing, taken_along
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


@pytest.mark.parametrize(
    ("name", "gone", "stays"),
    [
        ("result", {"concentration", "section_interval"}, {"plume_extent", "model", "map_band"}),
        ("reading", {"conductivity", "interval_conductivity"}, {"model", "discharge"}),
        ("borehole", {"borehole_path", "concentration", "head"}, {"map_band"}),
        ("criterion", set(), {"concentration", "plume_extent"}),
        ("result.value", set(), {"concentration", "plume_extent"}),
    ],
)
def test_what_repeats_private_rows_goes_along_and_the_rest_is_named(name, gone, stays):
    """A measured value stands again beside its zone in a derived table; an estimate does not."""
    assert gone <= set(taken_along([name]))
    assert stays <= set(still_showing([name]))
    assert not set(taken_along([name])) & set(still_showing([name]))


def test_the_package_says_what_was_kept_back_and_what_still_tells_of_it(with_private, tmp_path):
    """In README.txt, for whoever receives it."""
    site = with_private("result")
    assert "concentration" not in without_private(site).tables
    done = hand_over(site, tmp_path / "out", formats=["csv"])
    assert {"result", "concentration"} <= set(done.held_back)
    text = (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    part = " ".join(text.split("WHAT WAS KEPT BACK")[1].split("WHAT THE FORMATS")[0].split())
    assert "Kept back by the maker: result, concentration" in part
    assert not [f for f in done.files if "concentration" in f]
