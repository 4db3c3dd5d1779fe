"""Sections cut into cells: sums over blocks, means over intervals, planes beside each other."""

import numpy as np
import pytest

from geoprofile.geometry import SectionPlane
from geoprofile.products.discharge.transects import (
    ROWS,
    block_boxes,
    block_sums,
    cells_of,
    interval_means,
    parallel_planes,
)
from geoprofile.products.section.sections import section_of


@pytest.fixture
def cells(mapped_site):
    """Cells of the section with a bend."""
    return cells_of(section_of(mapped_site, "across"))


def test_cells_cover_what_is_wet(cells, mapped_site):
    """Areas add up to the wet part, and every middle lies above the line on the map."""
    section = section_of(mapped_site, "across")
    assert cells.area.sum() == pytest.approx(section.wet.area)
    s, z, offset = section.plane.to_section(cells.points)
    assert np.abs(offset).max() < 1e-6
    assert s == pytest.approx(cells.distance)
    assert z == pytest.approx(cells.elevation)


def test_blocks_hold_their_cells(cells):
    """The middle of a cell lies in the box of its block, and sums lose nothing."""
    numbers, boxes = block_boxes(cells)
    box = boxes[np.searchsorted(numbers, cells.block)]
    assert ((box[:, 0] < cells.distance) & (cells.distance < box[:, 2])).all()
    assert ((box[:, 1] < cells.elevation) & (cells.elevation < box[:, 3])).all()
    values = np.random.default_rng(1).uniform(size=(3, len(cells)))
    assert block_sums(cells, values).sum(axis=1) == pytest.approx(values.sum(axis=1))
    first = cells.block == numbers[0]
    assert block_sums(cells, values)[:, 0] == pytest.approx(values[:, first].sum(axis=1))


def test_an_interval_takes_the_mean_of_the_logarithm(cells):
    """Over two rows of 1 and 100 it is 10; shorter than a cell, or where all is even, nothing."""
    rows = np.where(cells.row % 2 == 0, 0.0, 2.0)
    whole = np.isclose(cells.area, np.prod(cells.size))
    pair = np.bincount(cells.column * ROWS + cells.row // 2, weights=whole)
    inner = pair[cells.column * ROWS + cells.row // 2] == 2
    assert inner.any()
    assert interval_means(cells, rows, 2 * cells.size[1])[inner] == pytest.approx(10.0)
    assert interval_means(cells, rows, 0.1 * cells.size[1]) == pytest.approx(10**rows)
    even = np.full((2, len(cells)), 0.7)
    assert interval_means(cells, even, 50.0) == pytest.approx(10**even)


def test_parallel_planes_lie_down_and_up_the_flow_in_turn():
    """The drawn plane first, then one step down the flow, one up, two down."""
    plane = SectionPlane(np.array([[0.0, 0.0], [0.0, 100.0]]))
    found = parallel_planes(plane, count=4, spacing_m=10.0, azimuth_deg=90.0)
    assert [p.xy[0, 0] for p in found] == pytest.approx([0.0, 10.0, -10.0, 20.0])
    (_, other) = parallel_planes(plane, count=2, spacing_m=0.0, azimuth_deg=90.0)
    assert other.xy[0, 0] == pytest.approx(5.0)  # a twentieth of the length
