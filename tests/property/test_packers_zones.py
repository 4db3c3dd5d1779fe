"""Laws of zone plans over random holes and equipment."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geoprofile.packers import (
    Hole,
    Packer,
    Rules,
    Section,
    SetUp,
    Spacer,
    candidates,
    continuous_zones,
    faults,
    separate_zones,
    straddle,
)

RULES = Rules()
WATER = 999.7 * 9.80665  # [Pa/m]
READ = [0.070, 0.090, 0.097, 0.103, 0.125, 0.140]  # [m] what a caliper may read
LENGTHS = st.sampled_from([1.0, 1.5, 3.0])
OVERLAPS = st.sampled_from([0.0, 0.2, 0.5])
MANY = 10_000


@st.composite
def holes(draw: st.DrawFn) -> Hole:
    """Casing over one or two open sections, vertical or inclined, perhaps with weak rock."""
    casing = draw(st.integers(0, 20)) * 0.5
    first = draw(st.integers(6, 40)) * 0.5
    second = draw(st.integers(0, 30)) * 0.5
    wide = draw(st.sampled_from([0.096, 0.101, 0.122]))
    narrow = draw(st.sampled_from([0.076, 0.096]))
    sections = [Section(casing, casing + first, wide)]
    if casing > 0:
        sections.insert(0, Section(0.0, casing, wide + 0.01, "casing"))
    if second > 0:
        sections.append(Section(casing + first, casing + first + second, min(narrow, wide)))
    depth = sections[-1].bottom_m
    lean = draw(st.sampled_from([1.0, 0.8]))
    read = draw(st.dictionaries(st.integers(0, 400), st.sampled_from(READ), max_size=6))
    log = sorted(read.items())
    weak = draw(st.lists(st.tuples(st.floats(0, 40), st.floats(0.05, 2)), max_size=2))
    return Hole(
        "B1",
        depth,
        tuple(sections),
        static_depth_m=draw(st.sampled_from([None, 0.0, 3.3, 12.0])),
        along_m=(0.0, depth),
        vertical_m=(0.0, lean * depth),
        unsound_m=tuple((round(t, 2), round(t + w, 2)) for t, w in weak),
        caliper_depth_m=tuple(0.1 * tenths for tenths, _ in log),
        caliper_m=tuple(diameter for _, diameter in log),
    )


@st.composite
def packers(draw: st.DrawFn) -> Packer:
    """Any packer."""
    return Packer(
        "P1",
        draw(st.sampled_from([0.056, 0.072, 0.092])),
        draw(st.sampled_from([0.06, 0.076])),
        draw(st.sampled_from([0.1, 0.13])),
        draw(st.sampled_from([0.5, 0.75, 1.0])),
        draw(st.sampled_from([150e3, 400e3])),
        draw(st.sampled_from([500e3, 700e3, 2000e3])),
        draw(st.sampled_from([None, 20.0])),
        draw(st.sampled_from([None, 15.0])),
    )


def holds(hole: Hole, setup: SetUp) -> None:
    """Check a set-up against every limit, written out anew."""
    packer = setup.packer
    lowest = max(bottom for _, bottom in setup.elements_m)
    lean = hole.vertical_m[-1] / hole.along_m[-1]
    water = hole.static_depth_m or 0.0
    inner = WATER * max(lean * lowest - water, 0.0) + packer.seating_pressure_pa + 1.3 * 50e3
    assert inner <= packer.max_inflation_pa * (1 + 1e-9)
    assert packer.max_depth_m is None or lowest <= packer.max_depth_m + 1e-5
    submerged = lean * lowest - water
    assert packer.max_submergence_m is None or submerged <= packer.max_submergence_m + 1e-5
    ends = {d for s in hole.sections for d in (s.top_m, s.bottom_m)}
    for top, bottom in setup.elements_m:
        assert not any(top < end < bottom for end in ends)
        home = [s for s in hole.sections if s.top_m <= top + 1e-5 and bottom <= s.bottom_m + 1e-5]
        assert home[0].kind == "open hole"
        assert packer.min_hole_m - 1e-9 <= home[0].diameter_m <= packer.max_hole_m + 1e-9
        assert not any(top < b - 1e-5 and bottom > t + 1e-5 for t, b in hole.unsound_m)
        for depth, diameter in zip(hole.caliper_depth_m, hole.caliper_m, strict=True):
            same = home[0].top_m < depth < home[0].bottom_m
            if same and top - 0.3 + 1e-4 <= depth <= bottom + 0.3 - 1e-4:
                assert packer.min_hole_m - 1e-5 <= diameter <= packer.max_hole_m + 1e-5
                assert 0.9 * home[0].diameter_m - 1e-5 <= diameter
                assert diameter <= 1.1 * home[0].diameter_m + 1e-5
    passed = [d for t, d in zip(hole.caliper_depth_m, hole.caliper_m, strict=True) if t <= lowest]
    assert all(packer.deflated_diameter_m + 0.004 <= d + 1e-5 for d in passed)


def keeps_limits(hole: Hole, packer: Packer, length: float) -> None:
    """Hold every set-up of every kind of plan against the limits."""
    spacer = Spacer("S", length)
    plans = [
        continuous_zones(hole, packer, spacer).setups,
        separate_zones(hole, packer, spacer).setups,
        candidates(hole, (packer,), (spacer,)),
    ]
    for setup in (s for plan in plans for s in plan):
        holds(hole, setup)


def leaves_no_gap(hole: Hole, packer: Packer, length: float, overlap: float) -> None:
    """Hold the profile against every centimetre that some straddle could test."""
    spacer = Spacer("S", length)
    profile = continuous_zones(hole, packer, spacer, overlap=overlap, rules=RULES)
    tested = set()
    for setup in profile.setups:
        tested |= set(range(round(setup.top_m * 100), round(setup.bottom_m * 100)))
    for top in range(0, round(hole.depth_m * 100), 7):
        setup = straddle(hole, packer, spacer, top_m=top / 100, rules=RULES)
        if not faults(hole, setup, rules=RULES):
            assert tested >= set(range(top, top + round(length * 100)))


@settings(max_examples=60, deadline=None)
@given(holes(), packers(), LENGTHS)
def test_no_plan_passes_a_limit(hole: Hole, packer: Packer, length: float) -> None:
    """No set-up of any plan exceeds the equipment, or has a packer element across casing or a
    joint.
    """
    keeps_limits(hole, packer, length)


@settings(max_examples=40, deadline=None)
@given(holes(), packers(), LENGTHS, OVERLAPS)
def test_profile_leaves_no_gap(hole: Hole, packer: Packer, length: float, overlap: float) -> None:
    """Every centimetre that some straddle could test is tested by the profile."""
    leaves_no_gap(hole, packer, length, overlap)


@pytest.mark.calibration
def test_ten_thousand_holes_keep_every_limit() -> None:
    """The first law, on request: pytest -m calibration tests/property/test_packers_zones.py."""
    many = settings(max_examples=MANY, deadline=None, suppress_health_check=list(HealthCheck))
    many(given(holes(), packers(), LENGTHS)(keeps_limits))()


@pytest.mark.calibration
def test_ten_thousand_profiles_leave_no_gap() -> None:
    """The second law, on request."""
    many = settings(max_examples=MANY, deadline=None, suppress_health_check=list(HealthCheck))
    many(given(holes(), packers(), LENGTHS, OVERLAPS)(leaves_no_gap))()


@settings(max_examples=40, deadline=None)
@given(holes(), packers())
def test_untested_is_what_no_zone_holds(hole: Hole, packer: Packer) -> None:
    """Tested and untested stretches make up the open hole."""
    profile = continuous_zones(hole, packer, Spacer("S", 1.5))
    marks = [s.top_m + 0.005 + 0.01 * k for s in hole.open_sections for k in range(500)]
    for depth in (m for m in marks if m < hole.depth_m):
        tested = any(s.top_m < depth < s.bottom_m for s in profile.setups)
        untested = any(top < depth < bottom for top, bottom in profile.untested_m)
        assert tested != untested
    assert len(profile.reasons) == len(profile.untested_m)
