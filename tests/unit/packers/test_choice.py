"""The test that measures the expected K, and the order and time of the work."""

from __future__ import annotations

import pytest

from geoprofile.packers import Means, Pace, Step, Zone, choose_test, steps_for, with_times

ZONE = Zone(length_m=2.0, hole_radius_m=0.048, water_column_m=10.0, volume_m3=0.014)


@pytest.mark.parametrize(
    ("k", "method"), [(1e-6, "slug test"), (6e-8, "constant head"), (1e-9, "pressure pulse")]
)
def test_method_follows_k(k: float, method: str) -> None:
    """Each test is chosen where it reaches the K that is expected."""
    assert choose_test(ZONE, Means(), k).method == method


def test_low_k_asks_for_a_narrower_pipe() -> None:
    """Below the range a narrower pipe is named, above it a wider one and the oscillation."""
    low = choose_test(ZONE, Means(), 1e-8)
    assert low.riser_m is not None
    assert low.riser_m < Means().riser_radius_m
    assert "too low" in low.notes[0]
    high = choose_test(ZONE, Means(), 3e-4)
    assert high.riser_m is not None
    assert high.riser_m > Means().riser_radius_m
    assert any("oscillation" in note for note in high.notes)


def test_pipe_that_will_do_really_does() -> None:
    """With the pipe named the slug test holds the K."""
    for k in (1e-8, 2e-4):
        found = choose_test(ZONE, Means(), k).riser_m
        assert found is not None
        again = choose_test(ZONE, Means(riser_radius_m=found), k * 1.0)
        slug = again.ranges[0]
        assert slug.low_m_per_s * (1 - 1e-9) <= k <= slug.high_m_per_s * (1 + 1e-9)


def test_no_pipe_helps_where_none_fits() -> None:
    """A pipe wider than the hole is never advised; one not on hand neither."""
    assert choose_test(ZONE, Means(), 5e-2).riser_m is None
    assert choose_test(ZONE, Means(), 5e-2).method is None
    only = Means(risers_on_hand_m=(0.019, 0.025))
    assert "no pipe on hand" in choose_test(ZONE, only, 1e-8).notes[0]


def test_unknown_k_starts_with_a_slug_test() -> None:
    """Nothing known: slug test, fastest logger, the longest time."""
    choice = choose_test(ZONE, Means(), None)
    assert (choice.method, choice.duration_s) == ("slug test", None)
    assert choice.logger_s == Means().shortest_interval_s


def test_spread_beyond_the_range_is_told() -> None:
    """When the range of K leaves the range of the test the note says so."""
    choice = choose_test(ZONE, Means(), 1e-6, k_range=(1e-8, 1e-5))
    assert "1.0e-08" in choice.notes[-1]


@pytest.mark.parametrize(
    ("known", "word"), [(False, "guess of 2.0e-09"), (True, "median measured")]
)
def test_pulse_says_what_it_rests_on(known: bool, word: str) -> None:
    """The compressibility of the shut-in string is a guess until it was measured."""
    notes = choose_test(ZONE, Means(is_measured=known), 1e-9).notes
    assert any(word in note for note in notes)
    assert not any("1/Pa" in note for note in choose_test(ZONE, Means(), 1e-6).notes)


def test_logger_is_fast_enough_for_the_high_end() -> None:
    """Five readings fall into the shortest time lag expected."""
    choice = choose_test(ZONE, Means(), 1e-6, k_range=(1e-7, 1e-5))
    fast = choose_test(ZONE, Means(), 1e-5)
    assert choice.logger_s == fast.logger_s


def test_injection_comes_after_sampling() -> None:
    """Head, purge, sample, withdrawal and injection in that order."""
    words = [s.what for s in steps_for("both", pipes=3, purge_s=600, test_s=120, pace=Pace())]
    order = [
        next(k for k, w in enumerate(words) if part in w)
        for part in ("inflate", "static head", "purge", "samples", "rising head", "vent")
    ]
    assert order == sorted(order)


def test_purposes_leave_out_what_they_do_not_need() -> None:
    """A hydraulic profile takes no sample; chemistry makes no slug test."""
    hydraulic = steps_for("hydraulic", pipes=0, purge_s=600, test_s=120, pace=Pace())
    assert not any("sample" in s.what for s in hydraulic)
    chemistry = steps_for("chemistry", pipes=0, purge_s=600, test_s=120, pace=Pace())
    assert not any("slug" in s.what for s in chemistry)


@pytest.mark.parametrize("name", ["constant head", "pressure pulse"])
def test_step_names_the_test(name: str) -> None:
    """The step says which test it is."""
    steps = steps_for("hydraulic", pipes=0, purge_s=0, test_s=60, pace=Pace(), test_name=name)
    assert any(name.split()[1] in s.what or name.replace(" ", "-") in s.what for s in steps)


def test_zone_waits_for_the_next_morning() -> None:
    """Work that does not fit into the rest of the day starts on the next."""
    pace = Pace(start_h=8.0, hours_a_day=4.0)
    timed = with_times([[Step("a", 150.0)], [Step("b", 120.0)]], pace)
    assert timed[0][0].clock == "day 1 08:00"
    assert timed[1][0].clock == "day 2 08:00"


def test_long_work_runs_into_the_next_days() -> None:
    """A zone longer than a day goes on in the next days."""
    pace = Pace(start_h=8.0, hours_a_day=4.0)
    timed = with_times([[Step("a", 500.0), Step("b", 10.0)]], pace)
    assert timed[0][1].clock == "day 3 08:20"
