"""Gradient from three wells against Heath (1983), from memory."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geoprofile.products.heads.flow import head_plane


def test_three_point_problem_gives_the_published_gradient() -> None:
    """Three heads and three distances give the book's gradient."""
    side_13, side_12, side_23 = 215.0, 165.0, 150.0
    angle = math.acos((side_12**2 + side_13**2 - side_23**2) / (2 * side_12 * side_13))
    wells = np.array(
        [
            [0.0, 0.0],
            [side_12 * math.cos(angle), side_12 * math.sin(angle)],
            [side_13, 0.0],
        ]
    )
    plane = head_plane(wells, np.array([26.26, 26.20, 26.07]))
    assert plane.gradient == pytest.approx(9.8e-4, rel=0.02)  # the book measured on a drawing


def test_five_wells_on_a_plane_return_it() -> None:
    """Heads of a plane of slope 0.002 towards 65 degrees give back slope and direction."""
    wells = np.array([[0.0, 0], [120, 15], [60, 140], [180, 160], [90, 70]])
    down = np.array([math.sin(math.radians(65)), math.cos(math.radians(65))])
    plane = head_plane(wells, 50.0 - 0.002 * wells @ down)
    assert plane.gradient == pytest.approx(0.002, rel=1e-9)
    assert plane.azimuth_deg == pytest.approx(65.0, abs=1e-7)


def test_errors_of_millimetres_turn_the_direction_as_worked_out_by_hand() -> None:
    """Known errors on five heads move the plane to that of the normal equations."""
    wells = np.array([[0.0, 0], [120, 15], [60, 140], [180, 160], [90, 70]])
    down = np.array([math.sin(math.radians(65)), math.cos(math.radians(65))])
    heads = 50.0 - 0.002 * wells @ down + np.array([4, -6, 3, 5, -4]) / 1000
    plane = head_plane(wells, heads)
    design = np.column_stack([np.ones(5), wells])
    _, gx, gy = np.linalg.solve(design.T @ design, design.T @ heads)
    assert plane.gradient == pytest.approx(math.hypot(gx, gy), rel=1e-6)
    assert plane.azimuth_deg == pytest.approx(math.degrees(math.atan2(-gx, -gy)) % 360, abs=1e-3)
    assert plane.azimuth_sd_deg > 0
