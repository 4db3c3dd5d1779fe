"""Areas and lines that reach absurdly far beyond the boreholes are refused when they are loaded."""

from __future__ import annotations

import pytest

HEADER = "name,kind,wkt\n"


def area(east: float, kind: str = "site") -> dict[str, str]:
    """An area from the boreholes (500010 to 500080 east) to that easting."""
    corners = f"500000 5300000,{east} 5300000,{east} 5300100,500000 5300100,500000 5300000"
    return {"areas.csv": f'{HEADER}all,{kind},"POLYGON (({corners}))"\n'}


@pytest.mark.parametrize("east", [530_000, 5e6, 1e12, 1e300])
def test_a_corner_far_away_is_told_with_its_distance(one, east):
    """More than 20 km beyond the last borehole: a digit too many, most often."""
    problem = one(area(east))
    assert problem.where == "areas.csv row 2 (all)"
    assert f"{(east - 500_080) / 1000:.4g} km beyond the boreholes" in problem.found
    assert problem.expected == "at most 20 km"


@pytest.mark.parametrize("east", [500_100, 519_000])
def test_a_wide_area_is_taken(taken, east):
    """A catchment of some kilometres is no slip."""
    assert len(taken(area(east)).tables["area"]) == 1


def test_a_line_in_another_zone_is_told(one):
    """Section lines likewise."""
    line = 'name,wkt\na,"LINESTRING (500000 5300000,5000000 5300030)"\n'
    assert "4500 km beyond" in one({"section_lines.csv": line}).found
