"""What is closed to drilling is drawn last, whatever the order of the table."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import pandas as pd
import pytest
import shapely

from geoprofile.drawing import theme
from geoprofile.drawing.map_frame import draw_areas, map_axes
from geoprofile.drawing.styles import qml, sld, style_of
from geoprofile.drawing.symbols import AREA_ORDER
from geoprofile.engine.rows import frame
from geoprofile.gisproject.order import underneath
from geoprofile.report.content import Content
from geoprofile.report.site_map import plan
from geoprofile.site import Site

CRS = "EPSG:32628"
BOXES = {
    "site": shapely.box(0, 0, 100, 100),
    "source": shapely.box(20, 20, 60, 60),
    "no drilling": shapely.box(30, 30, 50, 50),
}
ORDERS = list(itertools.permutations(BOXES))


def yard(kinds):
    """A site of one borehole whose areas stand in the table in this order."""
    areas = [{"name": k, "kind": k, "geometry": BOXES[k]} for k in kinds]
    hole = {
        "borehole": "H1",
        "x": 10.0,
        "y": 10.0,
        "ground_elevation_m": 5.0,
        "depth_m": 9.0,
        "geometry": shapely.Point(10, 10, 5),
    }
    plume = {
        "analyte": "toluene",
        "criterion_ug_per_l": 10.0,
        "probability": 0.5,
        "surface": "any depth",
        "geometry": shapely.MultiPolygon([shapely.box(0, 0, 90, 90)]),
    }
    sample = {"interval": "i", "borehole": "H1", "analyte": "toluene", "value_ug_per_l": 20.0}
    tables = {
        "area": areas,
        "borehole": [hole],
        "plume_extent": [plume],
        "concentration": [sample],
    }
    return Site("Yard", CRS, "datum", tables={t: frame(t, r, CRS) for t, r in tables.items()})


def drawing_of(site):
    """The map of the page without its caption."""
    return plan(Content(site)).split("<figcaption>")[0]


@pytest.mark.parametrize("kinds", ORDERS, ids="-".join)
def test_the_page_draws_the_closed_areas_over_fill_and_plume(kinds):
    """In a drawing of the page, what comes later covers what came before."""
    drawn = re.findall(r'class="(area [a-z]+|plume)', drawing_of(yard(kinds)))
    assert drawn == ["area site", "plume", "area source", "area shut"]


@pytest.mark.parametrize("kinds", ORDERS, ids="-".join)
def test_the_figure_draws_the_closed_areas_on_top(kinds):
    """Higher places cover lower ones, and none of the three is filled."""
    with theme.sheet(theme.LANDSCAPE_IN) as figure:
        axes, _ = map_axes(figure, (0, 0, 100, 100), (0.8, 1.15, 8.2, 6.05))
        drawn = draw_areas(axes, yard(kinds))
        patches = sorted(axes.patches, key=lambda p: p.get_zorder())
        assert tuple(drawn) == AREA_ORDER
        assert [p.get_hatch() for p in patches][-1] == "xxxx"
        assert not any(p.get_fill() and p.get_facecolor()[3] for p in patches)


def test_styles_draw_the_closed_areas_last():
    """The QML sorts the features, the SLD has a pass of its own for each kind."""
    style = style_of("area")
    tree = ElementTree.fromstring(qml(style).split("\n", 1)[1])  # noqa: S314
    renderer = tree.find("renderer-v2")
    clause = renderer.find("orderby/orderByClause")
    assert renderer.get("enableorderby") == "1"
    assert clause.get("asc") == "1"
    assert tuple(re.findall(r"'([^']+)' THEN \d", clause.text)) == AREA_ORDER
    se = "{http://www.opengis.net/se}"
    passes = ElementTree.fromstring(sld(style).encode()).iter(f"{se}FeatureTypeStyle")  # noqa: S314
    names = [p.find(f"{se}Rule/{se}Name").text for p in passes]
    assert tuple(names) == AREA_ORDER


def test_the_project_draws_areas_over_every_map():
    """No filled map covers them."""
    assert underneath()[0] == "area"


def test_an_area_of_no_kind_is_an_outline():
    """Drawn by hand and not yet named, it neither hides nor breaks anything."""
    site = yard(tuple(BOXES))
    site.tables["area"].loc[0, "kind"] = pd.NA
    assert drawing_of(site).count('class="area') == 3
