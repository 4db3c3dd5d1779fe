"""Names of boreholes in the report: none over another, and the end of a long one is kept."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from geoprofile.report import page
from geoprofile.report.labels import above, beside, box_of, placed

points = st.lists(st.tuples(st.floats(0, 700), st.floats(0, 400)), max_size=40)


@given(points, st.integers(1, 14))
def test_no_name_covers_another_or_leaves_the_drawing(dots, letters):
    """On a map, wherever the boreholes are; a name without room is left out."""
    names = ["m" * letters] * len(dots)
    found = placed(names, [beside(*dot) for dot in dots], 700, dots)
    boxes = [box_of(n, p) for n, p in zip(names, found, strict=True) if p is not None]
    for k, (left, top, right, bottom) in enumerate(boxes):
        assert left >= 0
        assert right <= 700
        for x, y, r, b in boxes[k + 1 :]:
            assert left >= r or right <= x or top >= b or bottom <= y


def test_neighbours_on_a_section_stand_one_above_the_other():
    """Two boreholes a metre apart."""
    found = placed(["003", "004"], [above(100, 60), above(104, 60)], 400)
    assert [place[1] for place in found] == [52, 38.5]


def test_forty_long_names_are_told_apart(long_names_site):
    """What all have in common is cut, not what tells them apart."""
    text = page(long_names_site)
    shown = set(re.findall(r'<text class="name" [^>]*>([^<]+)</text>', text))
    assert len(shown) > 30
    assert all(name.startswith("…") and name[-3:].isdigit() for name in shown)
