"""The composed project as a document and as a file, without a GIS."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile import app
from geoprofile.drawing.styles.model import Condition, layer_id
from geoprofile.errors import UsageError
from geoprofile.gisproject import keep_project, keeping, order
from geoprofile.gisproject.document import document
from geoprofile.gisproject.keeping import is_ours, packed, refuse_left
from geoprofile.gisproject.layers import sql_of
from geoprofile.gisproject.scales import box_at, scale_for, segment_for
from geoprofile.schema import DERIVED, INPUT, SYSTEM
from geoprofile.store import Store, inspect
from geoprofile.store.projects import contents_of, store_project, stored_project


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """A site file with no row at all. Read-only."""
    path = tmp_path_factory.mktemp("project") / "site.gpkg"
    Store.create(path, name="a & b <yard>\x0b", crs="EPSG:32632", vertical_datum="zero")
    return path


@pytest.fixture
def site(empty, tmp_path):
    """A copy of it."""
    return shutil.copyfile(empty, tmp_path / "site.gpkg")


def tree_of(path):
    text = document(contents_of(path), path.name)
    return ElementTree.fromstring(text.split("\n", 1)[1])  # noqa: S314 - our own


def test_a_site_without_rows_has_a_project_of_its_input_tables(empty):
    """Every table of the user is there to be filled in, none of the others, and no page."""
    root = tree_of(empty)
    ids = {e.text for e in root.findall("projectlayers/maplayer/id")}
    assert ids == {layer_id(t.name) for t in INPUT}
    assert root.findtext("title") == "a & b <yard>"
    assert root.findall("Layouts/Layout") == []


def test_the_legend_places_every_table_of_ours_and_keeps_the_order_of_the_work():
    """Within a group what is read first stands first, whichever product it comes from."""
    found = dict(order.groups())
    assert order.REST not in {order.group_of(table.name) for table in DERIVED}
    assert found["Samples"] == (
        "concentration", "soil_gas", "round_change", "trend", "sampling_quality",
        "sample", "result", "replaced_result",
    )  # fmt: skip
    assert found["Maps"][:6] == (
        "plume_line", "plume_extent", "map_assumed", "map_blank", "map_band", "plume_change",
    )  # fmt: skip
    assert list(found)[-3:] == ["Mass discharge", "What next", "Findings"]
    below = order.underneath()
    assert below.index("plume_extent") < below.index("map_band") < below.index("soil_gas_band")


def test_relations_join_every_key_of_another_table(empty):
    """As the schema says which column holds the key of which table."""
    found = {
        (r.get("referencingLayer"), r.find("fieldRef").get("referencingField"))
        for r in tree_of(empty).findall("relations/relation")
    }
    assert found == {
        (layer_id(t.name), c.name)
        for t in INPUT
        for c in t.columns
        if c.references and c.references != t.name
    }


def test_the_same_file_gives_the_same_project(site):
    """To the last byte, so that a run that changes nothing writes nothing."""
    assert keep_project(site).written == ("project 'site' in site.gpkg", "site.qgz")
    again = keep_project(site)
    assert again.written == again.left == ()
    assert inspect(site) == []


def test_names_are_long_enough_to_be_kept():
    """QGIS gives a layer another name where its own has ten characters or fewer."""
    assert all(len(layer_id(t.name)) > 10 for t in (*INPUT, *DERIVED, *SYSTEM))


def changed(content):
    """The project as another program saves it after a change: another zip, no mark."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        (name,) = archive.namelist()
        text = archive.read(name).decode().replace("<title>", "<title>mine ")
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr(name, text)
    return buffer.getvalue()


def test_a_project_that_is_saved_meanwhile_stays(site, monkeypatch):
    """Between the look at it and its replacement the user saves: the user's project is left."""
    keep_project(site)
    mine = changed(site.with_suffix(".qgz").read_bytes())
    store_project(site, "site", packed("<qgis/>", "site.qgs"))  # ours, of an earlier state
    original = keeping.store_project

    def saved_before(path, *words, **options):
        store_project(path, "site", mine)
        original(path, *words, **options)

    monkeypatch.setattr(keeping, "store_project", saved_before)
    assert keep_project(site).left == ("project 'site' in site.gpkg",)
    assert stored_project(site, "site") == mine


def test_the_project_beside_is_written_whole_and_through_no_link(site, tmp_path):
    """A link of its temporary name in the folder is not followed, and nothing is left over."""
    victim = tmp_path / "victim"
    victim.write_text("mine")
    (site.parent / ".site.qgz.new").symlink_to(victim)
    keep_project(site)
    assert victim.read_text() == "mine"
    assert is_ours(site.with_suffix(".qgz").read_bytes())
    assert not list(site.parent.glob(".being-written-*"))


def test_a_project_that_was_changed_stays(site):
    """Both of them, until it is asked for; what was there is then kept under another name."""
    keep_project(site)
    beside = site.with_suffix(".qgz")
    mine = changed(beside.read_bytes())
    beside.write_bytes(mine)
    store_project(site, "site", mine)
    kept = keep_project(site)
    assert kept.written == ()
    assert len(kept.left) == 2
    assert beside.read_bytes() == mine == stored_project(site, "site")
    with pytest.raises(UsageError, match="changes that were made in the GIS"):
        refuse_left(kept)
    keep_project(site, overwrite=True)
    assert is_ours(beside.read_bytes())
    assert is_ours(stored_project(site, "site"))
    (other,) = site.parent.glob("site.before-*.qgz")
    assert other.read_bytes() == mine
    with closing(sqlite3.connect(site)) as connection:
        names = [n for (n,) in connection.execute("SELECT name FROM qgis_projects ORDER BY name")]
    assert len(names) == 2
    assert stored_project(site, names[1]) == mine


def test_another_project_of_the_user_is_left_alone(site):
    """Only the one of our name is written."""
    store_project(site, "my view", b"anything")
    keep_project(site)
    assert stored_project(site, "my view") == b"anything"


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + b"\0" * 18])
def test_what_is_no_project_of_ours_is_not_written_over(site, content):
    """An empty zip, a text, nothing at all."""
    site.with_suffix(".qgz").write_bytes(content)
    assert "site.qgz" in keep_project(site).left
    assert site.with_suffix(".qgz").read_bytes() == content


def test_a_user_style_is_taken_and_one_that_is_harmful_is_not(site):
    """What the user saved as default is how the table opens; entities are not expanded."""
    own = "<qgis labelsEnabled='1'><mine/></qgis>"
    bomb = "<!DOCTYPE q [<!ENTITY a 'aa'>]><qgis><mine>&a;</mine></qgis>"
    with closing(sqlite3.connect(site)) as connection, connection:
        connection.executemany(
            "INSERT INTO layer_styles (f_table_name, styleName, styleQML, useAsDefault, owner) "
            "VALUES (?, 'x', ?, 1, 'somebody')",
            [("borehole", own), ("area", bomb), ("section_line", "<broken")],
        )
    layers = {e.findtext("id"): e for e in tree_of(site).findall("projectlayers/maplayer")}
    assert layers[layer_id("borehole")].find("mine") is not None
    assert layers[layer_id("area")].find("mine") is None
    assert layers[layer_id("section_line")].find("renderer-v2") is not None


@given(st.text(max_size=30), st.text(alphabet="'\"|%;- \n", max_size=8))
def test_a_filter_finds_the_value_it_was_made_from(text, odd):
    """Whatever the value, as SQLite reads it."""
    value = (text + odd).replace("\x00", "")
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute('CREATE TABLE t ("a""b" TEXT)')
        connection.execute("INSERT INTO t VALUES (?), (NULL)", (value,))
        for wanted in (value, None):
            where = sql_of((Condition('a"b', "=", wanted),))
            assert connection.execute(f"SELECT * FROM t WHERE {where}").fetchall() == [(wanted,)]


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(1e-2, 1e5), st.floats(1e-2, 1e5))
def test_a_plan_shows_all_of_the_site_and_wastes_less_than_half(x, y, width, height):
    """The scale is the largest usual one: the next larger would cut something off."""
    place = (10.0, 10.0, 300.0, 277.0)
    box = (x, y, x + width, y + height)
    scale = scale_for(box, place)
    shown = box_at((x + width / 2, y + height / 2), place, scale)
    slack = 1e-5 * max(width, height) + 1e-6
    assert shown[0] <= box[0] + slack
    assert shown[3] >= box[3] - slack
    if scale > 1:
        assert max(width / 300, height / 277) * 1000 > scale / 2.01
    assert scale * 0.0079 <= segment_for(scale) <= scale * 0.0201


@given(st.text(max_size=200))
def test_a_packed_project_is_known_as_ours(text):
    """And no longer when a byte of its text is another."""
    content = packed(text.encode("utf-8", "replace").decode(), "site.qgs")
    assert is_ours(content)
    assert not is_ours(changed(content.replace(b"geoprofile ", b"geoprofilf ")))


def test_layouts_carry_the_title_block_and_the_unit_that_people_read(site):
    """A site with one borehole in feet on US paper; no text of the user is an expression."""
    said = {"author": "A. Dey", "status": "draft", "revision": "[% @user %]"}
    yard = site.parent / "yard"
    yard.mkdir()
    (yard / "boreholes.csv").write_text(
        "borehole,x,y,ground_elevation_m,depth_m\nB1,500000,5300000,100,30\n"
    )
    assert app.load(site, [yard]).loaded
    with closing(sqlite3.connect(site)) as connection, connection:
        units = {"length": "ft", "paper": "US Letter"}
        for name, value in (("units", units), ("document", said)):
            connection.execute(
                "INSERT INTO site (name, value) VALUES (?, ?)", (name, json.dumps(value))
            )
    [text] = unpacked(keep_project(site, overwrite=True).file)
    assert 'unitLabel="ft"' in text
    assert 'unitType="meters"' not in text
    assert text.count("Author: A. Dey") == text.count("Status: draft") == 2  # on both pages
    assert "[% @user" not in text
    assert sheets_in(text) == {"Plan": (431.8, 279.4), "Borehole sheets": (215.9, 279.4)}
    assert "on 11 x 17 in" in text
    assert "on US Letter" in text


def sheets_in(text):
    """The size of each page [mm], on which all its parts lie."""
    sizes = {}
    for layout in ElementTree.fromstring(text.split("\n", 1)[1]).iter("Layout"):  # noqa: S314
        page = layout.find("PageCollection/LayoutItem")
        sizes[layout.get("name")] = wide, tall = numbers_of(page, "size")
        for item in layout.findall("LayoutItem"):
            (x, y), (width, height) = numbers_of(item, "position"), numbers_of(item, "size")
            assert 0 <= x <= x + width <= wide
            assert 0 <= y <= y + height <= tall
            if item.get("shapeType") == "0":
                assert width == height
    return sizes


def numbers_of(item, name):
    """The two numbers of an attribute."""
    return tuple(float(n) for n in item.get(name).split(",")[:2])


def unpacked(file):
    """The projects in a zipped one, as text."""
    with zipfile.ZipFile(file) as packed_up:
        return [packed_up.read(n).decode() for n in packed_up.namelist() if n.endswith(".qgs")]
