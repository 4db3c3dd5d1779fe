"""The composed project in the real GIS: it opens whole, reads well, prints, and survives."""

from __future__ import annotations

import itertools
import shutil

import numpy as np
import pytest
from matplotlib import image

from geoprofile.drawing.styles.model import layer_id
from geoprofile.gisproject import keep_project
from geoprofile.schema import INPUT, SYSTEM
from geoprofile.store import Store, inspect


@pytest.fixture(scope="module")
def composed(demo_run, tmp_path_factory):
    """The demonstration after its run, in a folder of another name; its pictures go there too."""
    folder = tmp_path_factory.mktemp("moved") / "other folder"
    folder.mkdir()
    for name in ("site.gpkg", "site.qgz"):
        shutil.copyfile(demo_run / name, folder / name)
    return folder


@pytest.fixture(scope="module")
def opened(gis, composed):
    """What the GIS says of the project beside the site file."""
    return gis("open_project.py", composed / "site.qgz", composed)


def test_it_opens_whole(opened):
    """No layer is invalid, though folder and name of the folder are others."""
    assert opened["read"] is True
    assert opened["invalid"] == []
    assert opened["crs"] == "EPSG:32628"


def test_the_one_inside_the_file_is_the_same(gis, composed, opened):
    """The GIS reads the table in which it keeps projects itself."""
    inside = gis("open_project.py", f"geopackage:{composed / 'site.gpkg'}?projectName=site")
    assert inside["invalid"] == []
    assert list(inside["layers"]) == list(opened["layers"])
    assert inspect(composed / "site.gpkg") == []


def test_the_legend_fits_on_a_screen_and_names_themes(opened):
    """One entry per theme, titles as names, and the tables of the program are out of sight."""
    assert opened["legend_mm"] < 300
    names = {m["name"] for m in opened["layers"].values()}
    assert {"Boreholes", "Intervals", "Map bands: TCE, R2 and earlier, median, -10 m"} <= names
    assert not {layer_id(t.name) for t in SYSTEM} & set(opened["layers"])
    assert opened["groups"][:3] == ["Site", "Boreholes", "Packers and intervals"]
    assert opened["groups"][-1] == "Findings"


def test_every_name_is_on_the_plan_and_none_over_another(opened, composed):
    """Boreholes, areas, both ends of each section line; no name lies over a borehole either."""
    store = Store.open(composed / "site.gpkg")
    holes = store.rows("borehole", ["borehole", "x", "y"])
    lines = [name for (name,) in store.rows("section_line", ["name"])]
    wanted = [name for name, *_ in holes] + [n for (n,) in store.rows("area", ["name"])]
    wanted += [name + mark for name in lines for mark in ("", "'")]
    labels = opened["labels"]
    assert sorted(text for text, *_ in labels) == sorted(wanted)
    boxes = {text: box for text, _, box in labels}
    points = {f"borehole {name}": [x, y, x, y] for name, x, y in holes}
    over = [
        (one, other)
        for (one, a), (other, b) in itertools.combinations({**boxes, **points}.items(), 2)
        if one in boxes and a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]
    assert over == []


def test_a_theme_has_its_own_rows_and_rules_only(opened):
    """Classes of K are not in the legend of a substance."""
    bands = [m for m in opened["layers"].values() if m["name"].startswith("Map bands")]
    assert len(bands) > 10
    assert all("|subset=" in m["source"] for m in bands)
    for band in bands:
        unit = "m/s" if ": K," in band["name"] else "%" if "prob" in band["name"] else "µg/L"
        assert all(unit in rule for rule in band["rules"]), band["name"]


def test_every_map_opens_on_the_same_substance_round_and_level(opened):
    """What is ticked at first belongs together."""
    shown = [m["name"] for m in opened["layers"].values() if m["shown"]]
    mapped = [n for n in shown if n.startswith(("Map", "Plume", "Concentration"))]
    assert len(mapped) >= 3
    assert all("TCE, R2 and earlier" in n for n in mapped)
    levels = {n.rsplit(", ", 1)[1] for n in mapped if not n.startswith("Concentration")}
    assert len(levels) == 1


def test_sections_lie_apart(opened):
    """On their own sheet, in their own theme, and not on the map."""
    sheet = opened["themes"]["Sections"]
    assert {opened["layers"][k]["crs"] for k in sheet} == {"Section sheet"}
    assert not any(opened["layers"][k]["shown"] for k in sheet)
    on_map = {k for n, keys in opened["themes"].items() if "Section" not in n for k in keys}
    assert not on_map & set(sheet)


def test_relations_lead_from_boreholes_to_readings_and_results(opened):
    """All are valid, and find rows."""
    relations = opened["relations"]
    assert all(r["valid"] for r in relations.values())
    for name in ("interval_borehole", "test_interval", "reading_test", "result_sample"):
        assert relations[name]["children"] > 0


def test_only_tables_of_the_user_can_be_edited(opened):
    """What is computed anew is not open to edits that would be lost; forms are there."""
    editable = {k for k, m in opened["layers"].items() if not m["read_only"]}
    assert editable == {layer_id(t.name) for t in INPUT}
    assert "ValueRelation" in opened["layers"][layer_id("test")]["widgets"]
    assert opened["form"] is True


def test_points_are_drawn_over_areas_and_areas_over_maps(opened):
    """Whatever the order of the groups."""
    order = [k.split("_", 1)[1] for k in opened["order"]]
    first_band = min(i for i, k in enumerate(order) if k.startswith("map_band"))
    assert order.index("borehole") < order.index("area") < first_band
    assert order.index("next_borehole") < first_band


def test_plan_and_sheets_are_printed(opened, composed):
    """Something is on each page: ink on the map, and in the column beside it."""
    assert opened["layouts"] == ["Plan", "Borehole sheets"]
    assert [code for _, code in opened["pictures"]] == [0, 0, 0]
    for path, _ in opened["pictures"]:
        page = image.imread(path)[..., :3].mean(axis=2)
        width = page.shape[1]
        for part in (page[:, : width // 2], page[:, width // 2 :]):
            assert 0.005 < np.mean(part < 0.9) < 0.9


def test_what_the_user_saves_in_the_gis_survives(gis, composed, tmp_path):
    """The GIS itself saves a change into both; a later run leaves them as they are."""
    for name in ("site.gpkg", "site.qgz"):
        shutil.copyfile(composed / name, tmp_path / name)
    places = (tmp_path / "site.qgz", f"geopackage:{tmp_path / 'site.gpkg'}?projectName=site")
    assert gis("save_project.py", "my own title", *places) == [True, True]
    assert keep_project(tmp_path / "site.gpkg").written == ()
    assert gis("save_project.py", "", *places) == ["my own title", "my own title"]
    keep_project(tmp_path / "site.gpkg", overwrite=True)
    assert gis("save_project.py", "", *places) == 2 * [
        "Pellandry Isle, former drum yard (invented)"
    ]
