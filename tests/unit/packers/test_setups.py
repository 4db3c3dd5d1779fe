"""Set-ups that the equipment can hold, and the tally of pipes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from geoprofile.packers import (
    Hole,
    Packer,
    Rules,
    Section,
    Spacer,
    candidates,
    continuous_zones,
    faults,
    pipe_tally,
    separate_zones,
    single,
    straddle,
)

PACKER = Packer("P1", 0.070, 0.076, 0.110, 1.0, 350e3, 1500e3)
SPACER = Spacer("S3", 3.0)
HOLE = Hole(
    "B1",
    40.0,
    (Section(0.0, 8.0, 0.110, "casing"), Section(8.0, 40.0, 0.096)),
    static_depth_m=5.0,
)


def read(depth_m: float, diameter_m: float) -> Hole:
    """The hole with one reading of a caliper."""
    return replace(HOLE, caliper_depth_m=(depth_m,), caliper_m=(diameter_m,))


def test_sound_position_has_no_fault() -> None:
    """A straddle in mid-hole is allowed."""
    assert faults(HOLE, straddle(HOLE, PACKER, SPACER, top_m=20.0)) == ()


def test_breakout_between_the_elements_is_no_fault() -> None:
    """Only where a packer element sits must the wall be in gauge; the zone may be wider."""
    assert faults(read(21.5, 0.130), straddle(HOLE, PACKER, SPACER, top_m=20.0)) == ()


@pytest.mark.parametrize(
    ("hole", "packer", "top", "word"),
    [
        (HOLE, PACKER, 8.5, "clear of casing"),
        (HOLE, PACKER, 35.9, "clear of casing"),
        (HOLE, replace(PACKER, max_hole_m=0.090), 20.0, "96 mm"),
        (HOLE, replace(PACKER, deflated_diameter_m=0.095), 20.0, "must pass 96 mm"),
        (HOLE, replace(PACKER, max_depth_m=20.0), 20.0, "deeper than 20 m"),
        (HOLE, replace(PACKER, max_submergence_m=15.0), 20.0, "19.0 m below water"),
        (HOLE, replace(PACKER, max_inflation_pa=500e3), 20.0, "500 kPa"),
        (HOLE, replace(PACKER, line_rating_pa=600e3), 20.0, "rated for 600 kPa"),
        (replace(HOLE, static_depth_m=22.0), PACKER, 20.0, "above the static water level"),
        (replace(HOLE, unsound_m=((18.0, 19.5),)), PACKER, 20.0, "unsound rock"),
        (read(19.5, 0.107), PACKER, 20.0, "0.3 m; 86 to 106 mm will do"),
        (read(23.5, 0.085), PACKER, 20.0, "85 to 85 mm by the caliper"),
        (read(23.5, 0.099), replace(PACKER, max_hole_m=0.098), 20.0, "86 to 98 mm will do"),
        (read(9.0, 0.073), PACKER, 20.0, "must pass 73 mm"),
    ],
)
def test_refusals_name_the_limit(hole: Hole, packer: Packer, top: float, word: str) -> None:
    """Each limit that is passed is named with its number."""
    assert any(word in text for text in faults(hole, straddle(hole, packer, SPACER, top_m=top)))


def test_rock_limit_counts_at_the_upper_element() -> None:
    """The rock bears most at the upper packer element, which shares the line with the deeper
    one.
    """
    setup = straddle(HOLE, PACKER, SPACER, top_m=20.0)
    at_lower = 350e3 + 1.3 * 50e3  # above the water pressure at 24 m
    at_upper = at_lower + 999.7 * 9.80665 * 5.0  # 24 m less 19 m
    assert faults(HOLE, setup, rules=Rules(rock_limit_pa_per_m=1.001 * at_upper / 19.0)) == ()
    assert faults(HOLE, setup, rules=Rules(rock_limit_pa_per_m=0.999 * at_upper / 19.0))


def test_zone_across_casing_is_refused() -> None:
    """Open hole above and below a casing is no zone."""
    sections = (
        Section(0.0, 10.0, 0.096),
        Section(10.0, 12.0, 0.090, "casing"),
        Section(12.0, 40.0, 0.096),
    )
    hole = Hole("B2", 40.0, sections, static_depth_m=1.0)
    words = faults(hole, straddle(hole, PACKER, Spacer("S5", 5.0), top_m=9.0))
    assert any("not all open hole" in word for word in words)


def test_zone_may_cross_a_change_of_diameter_but_no_element_may() -> None:
    """A step in diameter inside the zone is harmless; under a packer element it is refused."""
    sections = (Section(0.0, 20.0, 0.101), Section(20.0, 40.0, 0.096))
    hole = Hole("B3", 40.0, sections, static_depth_m=1.0)
    assert faults(hole, straddle(hole, PACKER, SPACER, top_m=18.5)) == ()
    assert faults(hole, straddle(hole, PACKER, SPACER, top_m=20.5))


def test_short_zone_is_refused() -> None:
    """Less than the shortest zone is refused."""
    words = faults(HOLE, single(HOLE, PACKER, top_m=39.6), rules=Rules(shortest_zone_m=0.5))
    assert any("shorter" in word for word in words)


def test_profile_covers_from_first_to_last() -> None:
    """Steps never pass the open length less overlap; the single packer reaches the bottom."""
    profile = continuous_zones(HOLE, PACKER, SPACER, overlap=0.2)
    tops = [s.top_m for s in profile.setups]
    assert tops[0] == pytest.approx(9.3)  # casing 8 m + clearance 0.3 m + packer element 1 m
    assert max(b - a for a, b in pairwise(tops)) <= 2.41  # 3 m less 20 %, 1 cm
    assert profile.setups[-1].isolation == "below packer"
    assert profile.setups[-1].bottom_m == 40.0
    assert profile.untested_m == ((8.0, 9.3),)
    assert "upper packer element" in profile.reasons[0]


def test_profile_without_single_packer_says_what_is_left() -> None:
    """The lower packer element and its clearance stay untested."""
    profile = continuous_zones(HOLE, PACKER, SPACER, to_bottom=False)
    assert profile.untested_m[-1] == pytest.approx((38.7, 40.0))
    assert "lower packer element" in profile.reasons[-1]


def test_short_hole_is_tested_by_a_single_packer() -> None:
    """No straddle fits 4 m of open hole with a 3 m length; one packer still does."""
    hole = replace(HOLE, depth_m=12.0, sections=(HOLE.sections[0], Section(8.0, 12.0, 0.096)))
    profile = continuous_zones(hole, PACKER, SPACER)
    assert [s.isolation for s in profile.setups] == ["below packer"]


def test_a_single_packer_goes_below_a_breakout_near_the_bottom() -> None:
    """Where no packer sits right below the last zone, as much of the rest as can be is tested."""
    hole = replace(HOLE, caliper_depth_m=(33.31, 34.9), caliper_m=(0.13, 0.13))
    profile = continuous_zones(hole, PACKER, SPACER)
    last = profile.setups[-1]
    assert (last.isolation, last.bottom_m) == ("below packer", 40.0)
    assert last.top_m == pytest.approx(34.9 + 0.3 + 1.0, abs=0.011)  # clearance, then the element
    assert profile.setups[-2].bottom_m == pytest.approx(36.0, abs=0.011)
    assert profile.untested_m[-1][1] == pytest.approx(last.top_m)
    assert profile.reasons[-1] == "packer elements keep off what the caliper shows out of gauge"


def test_a_packer_that_does_not_pass_is_the_reason() -> None:
    """One limit that forbids every position is told alone, for the whole of the open hole."""
    profile = continuous_zones(HOLE, replace(PACKER, deflated_diameter_m=0.095), SPACER)
    assert profile.untested_m == ((8.0, 40.0),)
    assert profile.reasons == (f"{PACKER.packer} of 95 mm does not pass the hole",)


def test_dry_rock_is_told_as_above_water() -> None:
    """Open hole above the water level stays untested with the reason."""
    profile = continuous_zones(replace(HOLE, static_depth_m=15.0), PACKER, SPACER)
    assert profile.setups[0].top_m == pytest.approx(15.0)
    assert profile.untested_m[0] == pytest.approx((8.0, 15.0))
    assert "above" in profile.reasons[0]


def test_hole_that_nothing_fits_is_left_whole() -> None:
    """A hole too wide for the packer gives no set-up and says so."""
    profile = continuous_zones(HOLE, replace(PACKER, max_hole_m=0.09), SPACER)
    assert profile.setups == ()
    assert profile.untested_m == ((8.0, 40.0),)
    assert "a hole of 96 mm (" in profile.reasons[0]


def test_zones_for_chemistry_keep_apart() -> None:
    """Between zones lies at least the distance asked for."""
    zones = separate_zones(HOLE, PACKER, SPACER, apart_m=2.0).setups
    gaps = [b.top_m - a.bottom_m for a, b in pairwise(zones)]
    assert min(gaps) >= 2.0 - 1e-9
    assert len(zones) == 6


def test_zones_for_chemistry_keep_a_element_apart() -> None:
    """The packer element length is the least distance."""
    zones = separate_zones(HOLE, PACKER, SPACER).setups
    gaps = [b.top_m - a.bottom_m for a, b in pairwise(zones)]
    assert 1.0 - 1e-9 <= min(gaps) <= max(gaps) < 1.6
    assert zones[-1].bottom_m == pytest.approx(38.7, abs=0.08)  # spread down to the last place


def test_candidates_take_the_packer_of_least_pressure() -> None:
    """Of two packers that fit, the softer one is taken; one that does not fit never is."""
    soft = replace(PACKER, packer="P2", seating_pressure_pa=200e3)
    wide = replace(PACKER, packer="P3", min_hole_m=0.12, max_hole_m=0.2, seating_pressure_pa=1.0)
    found = candidates(HOLE, (PACKER, soft, wide), (SPACER,), step_m=1.0)
    assert {s.packer.packer for s in found} == {"P2"}
    assert all(not faults(HOLE, s) for s in found)
    assert any(s.isolation == "below packer" for s in found)


def test_tally_of_whole_pipes() -> None:
    """Zone top 21.00 m, tool 1.20 m, pipes of 3 m: 7 pipes, 1.20 m above ground."""
    tally = pipe_tally(21.0, tool_m=1.2, pipe_m=3.0)
    assert (tally.pipes, tally.stick_up_m) == (7, pytest.approx(1.2))
    assert tally.string_m == pytest.approx(tally.zone_top_m + tally.stick_up_m)


def test_tally_takes_a_short_pipe_when_it_helps() -> None:
    """Where whole pipes would stick up 2.9 m a short pipe brings the string down."""
    tally = pipe_tally(20.3, tool_m=1.2, pipe_m=3.0, short_pipes_m=(1.0, 1.5))
    assert 0.3 <= tally.stick_up_m <= 1.5
    assert len(tally.short_pipes_m) == 1


def test_vertical_depth_beyond_the_path_goes_on_straight() -> None:
    """Past the last station depth counts in full, the safe side for pressure."""
    hole = replace(HOLE, along_m=(0.0, 20.0, 40.0), vertical_m=(0.0, 10.0, 30.0))
    assert hole.vertical(30.0) == pytest.approx(20.0)
    assert hole.vertical(42.0) == pytest.approx(32.0)
    assert hole.diameter(9.0, 10.0) == 0.096
