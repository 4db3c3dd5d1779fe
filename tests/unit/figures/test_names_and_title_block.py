"""Long names, many boreholes, and who answers for a sheet."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.drawing.document import UNSIGNED, Document, document_of
from geoprofile.drawing.edges import edge_lines
from geoprofile.drawing.names import short_names
from geoprofile.drawing.theme import LANDSCAPE_IN, sheet
from geoprofile.engine.rows import frame
from geoprofile.errors import DataErrors
from geoprofile.intake.settings import read_settings
from geoprofile.products.maps.figure import draw_map
from geoprofile.site import Site

CRS = "EPSG:32628"
STEM = "Groundwater observation well of the old works, northern yard "
NAMES = [f"{STEM}{i:02d}" for i in range(40)]
SIGNED = {
    "project": "P-17",
    "client": "Harbour trust",
    "author": "A. Dey",
    "checked_by": "B. Orr",
    "date": "2031-07-01",
    "revision": "2",
    "status": "draft",
}


def crowd(settings=None):
    """Forty boreholes with names of 62 letters on 200 by 150 m."""
    rng = np.random.default_rng(5)
    places = rng.uniform((0, 0), (200, 150), (40, 2))
    holes = [
        {
            "borehole": name,
            "x": x,
            "y": y,
            "ground_elevation_m": 5.0,
            "depth_m": 20.0,
            "geometry": shapely.Point(x, y, 5),
        }
        for name, (x, y) in zip(NAMES, places, strict=True)
    ]
    area = {"name": "yard", "kind": "site", "geometry": shapely.box(-5, -5, 205, 155)}
    line = {"name": "A-A'", "geometry": shapely.LineString([(0, 70), (200, 80)])}
    tables = {"borehole": holes, "area": [area], "section_line": [line]}
    return Site(
        "A site with a name that is far too long for one line of any heading " * 2,
        CRS,
        "yard datum",
        settings=settings or {},
        tables={t: frame(t, rows, CRS) for t, rows in tables.items()},
    )


def test_forty_long_names_neither_touch_nor_leave_the_sheet(collisions_of, cut_off_of, words_of):
    """Text boxes are measured; the end of each name is what is kept."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, crowd({"document": SIGNED}), None)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
        words = words_of(figure)
    shown = [n for n in range(40) if f"…{n:02d}" in words]
    assert len(shown) > 30
    assert "A''" not in words
    for text in SIGNED.values():
        assert text in words


def test_a_sheet_that_nobody_answers_for_says_so(words_of):
    """Instead of looking like a signed one."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, crowd(), None)
        assert UNSIGNED.split(":")[0] in words_of(figure)
    assert not document_of(crowd()).is_signed


@given(st.lists(st.text("ab -1é", min_size=1, max_size=40), unique=True, max_size=12))
def test_short_names_can_be_told_apart(names):
    """Whatever the names; short ones stay as they are."""
    found = short_names(names)
    assert len(set(found.values())) == len(names)
    assert all(found[n] == n for n in names if len(n) <= 14)


def test_the_common_part_is_cut_not_the_end():
    """Also where only some are long."""
    assert short_names([*NAMES[:2], "B1"]) == {NAMES[0]: "…00", NAMES[1]: "…01", "B1": "B1"}
    assert short_names([NAMES[7]])[NAMES[7]].endswith("yard 07")


def test_no_edge_along_the_border_of_what_is_mapped():
    """Of an extent that is cut off by the map only the edge inside is drawn."""
    mapped = shapely.box(0, 0, 100, 100)
    extent = shapely.box(0, 0, 40, 100)
    lines = edge_lines(extent, mapped)
    assert [line.length for line in lines] == [pytest.approx(100, abs=1)]
    assert {round(x) for line in lines for x, _ in line.coords} == {40}
    assert edge_lines(mapped, mapped) == []


def test_an_edge_along_a_seam_of_what_is_mapped_is_whole():
    """Where the criterion is a level, the edge runs where two bands meet."""
    seam = [(40, 0), (40.01, 30), (39.99, 60), (40, 100)]
    left = shapely.Polygon([(0, 0), *seam, (0, 100)])
    right = shapely.Polygon([(100, 0), (100, 100), *reversed([(x + 0.02, y) for x, y in seam])])
    lines = edge_lines(left, shapely.union_all([left, right]))
    assert [line.length for line in lines] == [pytest.approx(100, abs=1)]


@pytest.mark.parametrize(
    "text", ["[document]\nauthors = 'x'\n", "[document]\nauthor = ['x']\n", "document = 'x'\n"]
)
def test_a_wrong_title_block_is_refused(tmp_path, text):
    """With what was expected."""
    (tmp_path / "site.toml").write_text(
        f"crs = 'EPSG:32628'\n{text}" if "[" in text else f"{text}crs = 'EPSG:32628'"
    )
    with pytest.raises(DataErrors, match="document"):
        read_settings(tmp_path)


def test_the_title_block_is_read(tmp_path):
    """A day and a number may stand without quotes."""
    text = "crs = 'EPSG:32628'\n[document]\nauthor = 'A. Dey'\ndate = 2031-07-01\nrevision = 2\n"
    (tmp_path / "site.toml").write_text(text)
    settings = read_settings(tmp_path).settings["document"]
    assert settings == {"author": "A. Dey", "date": "2031-07-01", "revision": "2"}


def test_the_title_block_is_never_cut_before_its_revision():
    """Two lines: what it is about may be shortened, who, when and how far may not."""
    long = Document(
        project="p" * 90, client="c" * 90, author="A. Dey", revision="C", status="draft"
    )
    upper, lower = long.lines
    assert "…" in upper
    assert lower == "Author: A. Dey   |   Revision: C   |   Status: draft"
    assert Document(site="yard").lines[1].startswith("Not signed")


def test_a_test_sheet_names_day_radii_displacement_and_temperature():
    """What nobody told is said too: 96 mm of hole is 48 mm of radius, 36.6 of riser 18.3."""
    from geoprofile.hydraulics.tests import HydraulicTest, TestAnalysis
    from geoprofile.products.conductivity.figure import set_up

    test = HydraulicTest(
        test="t",
        interval="i",
        borehole="b",
        kind="falling head",
        interval_length_m=1.0,
        hole_radius_m=0.048,
        riser_radius_m=0.0183,
        expected_displacement_m=0.8,
    )
    none = TestAnalysis("t", "i", (), None, (), "rejected", ())
    told = set_up(test, none, made_on="2031-05-06")
    for part in ("2031-05-06", "riser radius 18.3 mm", "hole radius 48.0 mm", "H0 meant 0.8 m"):
        assert part in told
    assert "water temperature not told" in told
    assert "a day not told" in set_up(test, none, made_on="")
