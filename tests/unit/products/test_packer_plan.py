"""The field plan of a borehole on a made-up site without a field of K."""

from __future__ import annotations

import pytest

from geoprofile.engine.rows import frame
from geoprofile.errors import DataError, UsageError
from geoprofile.packers import Rules, faults
from geoprofile.products.packer_plan.compute import make_plan
from geoprofile.products.packer_plan.plan import Choices, Plan
from geoprofile.site import Site

CRS = "EPSG:32628"


def site(**changes: list[dict[str, object]]) -> Site:
    """One cased hole of 30 m, two packers, two open lengths."""
    packer = {
        "packer": "P1",
        "deflated_diameter_mm": 72.0,
        "min_hole_mm": 76.0,
        "max_hole_mm": 122.0,
        "element_length_m": 1.0,
        "seating_pressure_kpa": 350.0,
        "max_inflation_kpa": 1500.0,
        "pipe_inner_diameter_mm": 38.0,
        "gas_or_water": "gas",
    }
    rows: dict[str, list[dict[str, object]]] = {
        "borehole": [
            {"borehole": "B1", "x": 0.0, "y": 0.0, "ground_elevation_m": 9.0, "depth_m": 30.0}
        ],
        "construction": [
            {"borehole": "B1", "top_m": 0.0, "bottom_m": 6.0, "kind": "casing", "diameter_mm": 104},
            {
                "borehole": "B1",
                "top_m": 0.0,
                "bottom_m": 30.0,
                "kind": "open hole",
                "diameter_mm": 96,
            },
        ],
        "packer": [packer, {**packer, "packer": "P2", "max_hole_mm": 90.0}],
        "spacer": [
            {"spacer": "S1", "open_length_m": 1.0},
            {"spacer": "S2", "open_length_m": 2.0},
        ],
        "interval": [
            {
                "interval": "B1-p01",
                "borehole": "B1",
                "top_m": 8.0,
                "bottom_m": 10.0,
                "isolation": "straddle",
                "static_depth_m": 4.0,
            }
        ],
    }
    rows.update(changes)
    return Site("made up", CRS, "datum", tables={n: frame(n, r, CRS) for n, r in rows.items()})


WIDE = (150, 151, 152, 203)  # tenths of a metre


def plan(purpose: str = "hydraulic", choices: Choices | None = None) -> Plan:
    """The plan of the only hole."""
    return make_plan(site(), "B1", purpose=purpose, choices=choices)


def test_profile_tests_all_but_the_place_of_the_upper_element() -> None:
    """From casing end, clearance and packer element down to the bottom nothing is left."""
    made = plan()
    assert made.packer.packer == "P1"
    assert made.spacer.spacer == "S2"
    assert made.untested_m == ((6.0, 7.3),)
    assert made.visits[-1].setup.bottom_m == 30.0


def test_no_set_up_has_a_fault() -> None:
    """Every set-up of every plan keeps every limit."""
    for purpose in ("hydraulic", "chemistry", "both"):
        made = plan(purpose)
        assert made.visits
        assert not [f for v in made.visits for f in faults(made.hole, v.setup)]


def test_names_avoid_those_that_are_taken() -> None:
    """The interval B1-p01 exists, so the plan begins with B1-p02."""
    assert plan().visits[0].interval == "B1-p02"


def test_sum_of_pipes_meets_depth_and_stick_up() -> None:
    """Tool and pipes reach from the zone to the mark above ground."""
    for visit in plan().visits:
        tally = visit.tally
        assert tally.string_m == pytest.approx(visit.setup.top_m + tally.stick_up_m)
        assert 0.3 <= tally.stick_up_m <= 1.5


def test_unknown_k_is_said() -> None:
    """Without a field of K the first test tells, and the rate is not made up."""
    visit = plan("both").visits[0]
    assert visit.k is None
    assert visit.rate_m3_s is None
    assert "K not known" in visit.notes[0]


def test_unsound_rock_bears_no_element() -> None:
    """No packer element meets a stretch that was to be avoided."""
    made = plan(choices=Choices(avoid_m=((15.0, 15.5), (20.0, 20.2))))
    for visit in made.visits:
        for top, bottom in visit.setup.elements_m:
            assert not (top < 15.5 and bottom > 15.0)
            assert not (top < 20.2 and bottom > 20.0)


def test_elements_keep_off_breakouts_of_the_caliper() -> None:
    """No packer element covers a depth where the caliper read 20 % more than was drilled."""
    log = [
        {"borehole": "B1", "depth_m": 0.1 * k, "diameter_mm": 115.0 if k in WIDE else 97.0}
        for k in range(60, 301)
    ]
    made = make_plan(site(caliper=log), "B1", purpose="hydraulic")
    assert made.visits
    for visit in made.visits:
        for top, bottom in visit.setup.elements_m:
            assert not any(top <= 0.1 * k <= bottom for k in WIDE)
    free = [element for visit in plan().visits for element in visit.setup.elements_m]
    assert any(top <= 0.1 * k <= bottom for top, bottom in free for k in WIDE)


def test_measured_compressibility_is_used() -> None:
    """The median of what shut-in tests of the site measured stands in for the guess."""
    tests = [
        {"test": f"t{k}", "interval": "B1-p01", "system_compressibility_per_pa": value}
        for k, value in enumerate((4e-9, 6e-9, 9e-9, None))
    ]
    made = make_plan(site(test=tests), "B1", purpose="hydraulic")
    assert made.choices.means.pulse_compressibility_per_pa == 6e-9
    assert not plan().choices.means.is_measured


def test_days_follow_each_other() -> None:
    """Times never run backwards."""
    steps = [s for v in plan("both").visits for s in v.steps]
    times = [(s.day, s.start_min) for s in steps]
    assert times == sorted(times)
    assert plan("both").days >= 2


def test_pressure_limit_is_refused_with_its_number() -> None:
    """Too much pressure difference: the maker's limit is named, nothing is planned."""
    choices = Choices(rules=Rules(pressure_difference_pa=2e6))
    with pytest.raises(DataError, match=r"1500 kPa") as caught:
        plan(choices=choices)
    assert "never raise a maker's limit" in str(caught.value)


def test_packer_that_does_not_fit_is_refused_with_the_diameter() -> None:
    """The packer P2 is for holes up to 90 mm."""
    with pytest.raises(DataError, match=r"96 mm; P2 fits 76-90 mm"):
        plan(choices=Choices(packer="P2"))


@pytest.mark.parametrize(
    ("choices", "word"),
    [(Choices(packer="P9"), "P1, P2"), (Choices(spacer="S9"), "S1, S2")],
)
def test_unknown_equipment_is_answered_with_what_there_is(choices: Choices, word: str) -> None:
    """A wrong name is answered with the names on hand."""
    with pytest.raises(DataError, match=word):
        plan(choices=choices)


def test_missing_tables_are_named() -> None:
    """An empty packer table is told by name."""
    with pytest.raises(DataError, match="empty table packer"):
        make_plan(site(packer=[]), "B1")


def test_hole_without_open_section_is_told() -> None:
    """A fully cased hole has nowhere to seal."""
    cased = [
        {"borehole": "B1", "top_m": 0.0, "bottom_m": 30.0, "kind": "casing", "diameter_mm": 104}
    ]
    with pytest.raises(DataError, match="no open hole in its construction"):
        make_plan(site(construction=cased), "B1")


def test_unknown_borehole_and_purpose_are_refused() -> None:
    """Wrong names are answered with the right ones."""
    with pytest.raises(DataError, match="one of B1"):
        make_plan(site(), "B7")
    with pytest.raises(UsageError, match="hydraulic, chemistry, both"):
        make_plan(site(), "B1", purpose="fun")


def test_slow_purge_is_capped_and_said() -> None:
    """What the plan does not purge is told with the hours it would take."""
    made = plan("both", Choices(longest_purge_s=60.0, cross_flow_m3_s=1e-4, open_s=86400.0))
    visit = made.visits[0]
    assert visit.purge_s == 60.0
    assert visit.purge.invaded_m3 == pytest.approx(8.64)


def test_drawdown_raises_the_inflation_pressure() -> None:
    """A drawdown of 20 m brings 196 kPa across the packer elements, so they need more pressure."""
    gentle = plan("both").visits[0].inflation.inner_pa
    strong = plan("both", Choices(drawdown_m=20.0)).visits[0].inflation.inner_pa
    assert strong - gentle == pytest.approx(1.3 * (999.7 * 9.80665 * 20.0 - 50e3))


def test_rock_limit_refuses_shallow_elements() -> None:
    """With a limit of the rock per metre the shallow positions fall away."""
    free, bound = plan(), plan(choices=Choices(rules=Rules(rock_limit_pa_per_m=40e3)))
    assert bound.visits[0].setup.top_m > free.visits[0].setup.top_m
    for visit in bound.visits:
        shallow = visit.setup.elements_m[0][0]
        outside = 999.7 * 9.80665 * max(shallow - 4.0, 0.0)
        assert visit.inflation.inner_pa - outside <= 40e3 * shallow * (1 + 1e-9)
