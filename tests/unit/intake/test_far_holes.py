"""Boreholes far from all others are questioned, those of a long site are not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake.outliers import _groups, check_far_holes
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW

EAST, NORTH = 500_000.0, 5_300_000.0


def told(*along_m: float) -> list[Problem]:
    """What is said of holes along a line eastwards."""
    frame = pd.DataFrame(
        {
            "borehole": [f"B{k}" for k in range(len(along_m))],
            "x": EAST + np.array(along_m),
            "y": NORTH,
            SOURCE_FILE: "boreholes.csv",
            SOURCE_ROW: range(2, 2 + len(along_m)),
        }
    )
    problems: list[Problem] = []
    check_far_holes(frame, None, "EPSG:32632", problems)
    return problems


def test_holes_within_twenty_kilometres_stand_in_one_group() -> None:
    """18 km apart they are joined, 22 km apart they are not."""
    group = _groups(np.array([[EAST, NORTH], [EAST + 18e3, NORTH], [EAST + 40e3, NORTH]]))
    assert group[0] == group[1]
    assert group[1] != group[2]


def test_a_hole_in_another_place_is_told_with_its_distance() -> None:
    """Three holes within 100 m, the fourth 90 km off."""
    (problem,) = told(0.0, 50.0, 100.0, 90e3)
    assert "B3 at 90 km from all other boreholes" in problem.found
    assert problem.where.startswith("boreholes.csv row 5")


def test_a_long_site_is_none() -> None:
    """Holes every 15 km, and two clusters 30 km apart that are 2 km wide themselves."""
    assert told(0.0, 15e3, 30e3, 45e3) == []
    assert told(0.0, 2e3, 32e3, 34e3) == []
