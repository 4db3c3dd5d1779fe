"""Logs, casings, units and proposals in the plane of a section."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.products.section.logs import contacts_of, pieces_of, proposals_of
from geoprofile.products.section.sections import section_of


@pytest.fixture
def logged(mapped_site):
    """The site with logs of two holes, a casing, and proposals in three ranks."""
    crs = mapped_site.crs
    lithology = pd.DataFrame(
        [("B5", 0.0, 12.0, "sand "), ("B5", 12.0, 99.0, "clay"), ("B1", 0.0, 5.0, "sand")],
        columns=["borehole", "top_m", "bottom_m", "unit"],
    ).assign(description=None)
    construction = pd.DataFrame(
        [("B2", 0.0, 4.0, "casing", 100.0)],
        columns=["borehole", "top_m", "bottom_m", "kind", "diameter_mm"],
    ).assign(remarks=None)
    hole = mapped_site.boreholes.set_index("borehole").loc["B2"]
    lines = [
        shapely.LineString([(hole.x, hole.y, 2.0), (hole.x, hole.y, z)]) for z in (0.0, 1.0, 1.5)
    ]
    tests = gpd.GeoDataFrame(
        {"rank": [1, 2, 9], "borehole": ["B2", "B1", "B2"]}, geometry=lines, crs=crs
    )
    places = [shapely.Point(500_100, 4_000_062, 11.0), shapely.Point(500_100, 4_000_110, 11.0)]
    holes = gpd.GeoDataFrame({"rank": [1, 2], "depth_m": [20.0, 20.0]}, geometry=places, crs=crs)
    return mapped_site.with_tables(
        {
            "lithology": lithology,
            "construction": construction,
            "next_test": tests,
            "next_borehole": holes,
        }
    )


def test_pieces_lie_on_their_holes_and_end_with_them(logged):
    """Logs follow the leaning hole from where one ends to where the next begins, to its end."""
    section = section_of(logged, "along")
    pieces = pieces_of(logged, section)
    assert [(p.table, p.borehole, p.name) for p in pieces] == [
        ("lithology", "B5", "sand"),
        ("lithology", "B5", "clay"),
        ("construction", "B2", "casing"),
    ]
    sand, clay, casing = (p.line for p in pieces)
    hole = next(h.line for h in section.holes if h.borehole == "B5")
    assert sand[-1] == pytest.approx(clay[0], abs=1e-9)
    assert clay[-1] == pytest.approx(hole[-1], abs=1e-9)
    assert casing[0, 1] - casing[-1, 1] == pytest.approx(4.0)


def test_only_the_first_ranks_near_the_section_are_proposed(logged):
    """A test in a hole that is not shown, a late rank and a far borehole stay away."""
    found = proposals_of(logged, section_of(logged, "along"))
    assert [(p.table, p.rank) for p in found] == [("next_test", 1), ("next_borehole", 1)]
    assert found[0].line[:, 1].tolist() == [2.0, 0.0]
    assert found[1].line.tolist() == [[95.0, 11.0], [95.0, -9.0]]


def test_contacts_pass_through_where_the_holes_meet_them(mapped_site):
    """The top of the lower unit lies where the log of a hole on the line has it."""
    assert contacts_of(mapped_site, section_of(mapped_site, "along")) == ()
    holes = mapped_site.boreholes
    top = holes["ground_elevation_m"] - 6.0 - 0.02 * (holes["x"] - 500_000.0)
    rows = []
    for hole, z in zip(holes.itertuples(), top, strict=True):
        levels = (hole.ground_elevation_m, z, hole.ground_elevation_m - hole.depth_m)
        for number, unit in enumerate(("sand", "rock")):
            ends = [(hole.x, hole.y, levels[number]), (hole.x, hole.y, levels[number + 1])]
            rows.append((hole.borehole, unit, number + 1, number == 0, shapely.LineString(ends)))
    columns = ["borehole", "hydro_unit", "unit_number", "base_met", "geometry"]
    units = gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), crs=mapped_site.crs)
    straight = mapped_site.with_tables(
        {"hydro_unit": units, "survey": mapped_site.table("survey").iloc[:0]}
    )
    section = section_of(straight, "along")
    (contact,) = contacts_of(straight, section)
    assert contact.unit == "rock"
    place = holes.set_index("borehole").loc["B5"]
    s, _, _ = section.plane.to_section([[place.x, place.y, 0.0]])
    seen = np.interp(s[0], *contact.line.T)
    assert seen == pytest.approx(top[holes["borehole"] == "B5"].iloc[0], abs=0.05)  # 201 places
