"""Small numbers of many rooms, each worked out by hand: signs, limits and factors on the way."""

from __future__ import annotations

import dataclasses
import math
import traceback
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile import kriging
from geoprofile.app.history import _seconds
from geoprofile.cli._net import _frame
from geoprofile.engine.rows import frame
from geoprofile.errors import Problem, UsageError
from geoprofile.geometry import SectionPlane, trajectory
from geoprofile.geometry.depth import below_ground
from geoprofile.geometry.walls import upright
from geoprofile.hydraulics import analyse
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.curve_table import tabulate
from geoprofile.hydraulics.equal_knots import Curves
from geoprofile.hydraulics.injection import recovery_after_injection
from geoprofile.hydraulics.leak import log_ratio_mean_head, open_hole_above
from geoprofile.hydraulics.methods import hvorslev, moye, partial_penetration
from geoprofile.hydraulics.water_balance import Balance, passed_share
from geoprofile.intake.coordinates import _likely
from geoprofile.intake.differing import SHAPES, differences
from geoprofile.intake.far_shapes import check_far_shapes
from geoprofile.intake.feet import places_in_metres
from geoprofile.intake.grids import Line
from geoprofile.intake.profiled import _header_rows
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW, SiteSettings
from geoprofile.kriging.covariance.compiled import scaled_erfc
from geoprofile.kriging.fit.censoring import sweep
from geoprofile.kriging.fit.folds import MOST_FOLDS, MOST_SINGLE, folds_of
from geoprofile.kriging.fit.stored import _solution
from geoprofile.packers.equipment import Packer, Rules
from geoprofile.packers.schedule import Pace, steps_for
from geoprofile.packers.setups import gauge_limits
from geoprofile.plugins.registry import _product_of
from geoprofile.products.conductivity.conductivity import _interval_row
from geoprofile.products.conductivity.curves import MOST_READINGS, _kept
from geoprofile.products.conductivity.test_rows import step_rows
from geoprofile.products.discharge.gradients import Gradient
from geoprofile.products.heads.too_old import left_out
from geoprofile.products.maps.columns import volume_range
from geoprofile.products.maps.measured import results_of
from geoprofile.products.plume.porosity import _parsed
from geoprofile.products.section.gas_slices import _sampled_part
from geoprofile.reference.explain import _sections
from geoprofile.site import Site
from geoprofile.validation.known_k import bad_tests

CRS = "EPSG:32632"
EAST, NORTH = 500_000.0, 5_000_000.0


def site_of(**rows: list[dict[str, Any]]) -> Site:
    """A site of the tables named, at real coordinates."""
    return Site("made up", CRS, "datum", tables={n: frame(n, r, CRS) for n, r in rows.items()})


def test_transmissivity_is_k_times_the_length_of_the_interval() -> None:
    """2.5 m of 1e-5 m/s from 20.0 to 22.5 m."""
    place = {"interval": "W-1", "borehole": "W", "top_m": 20.0, "bottom_m": 22.5}
    row = _interval_row(place, [analyse(hvorslev.example(1e-5), [hvorslev.PLUGIN])], {})
    assert row["transmissivity_m2_per_s"] / row["k_m_per_s"] == pytest.approx(2.5)


def test_a_metre_of_cold_water_is_almost_ten_kilopascal() -> None:
    """999.70 kg/m3 at 10 degC (Kell 1975) times 9.80665 m/s2: 9.804 kPa a metre."""
    test = dataclasses.replace(moye.example(1e-6), water_temperature_c=10.0)
    rows = step_rows({}, test, analyse(test, [moye.PLUGIN]))
    assert rows
    for row in rows:
        assert row["net_pressure_kpa"] / row["net_head_m"] == pytest.approx(9.804, rel=2e-4)


def test_of_a_long_record_both_ends_are_kept() -> None:
    """The first readings one by one, the last one, and no more than fit the figure."""
    rows = _kept(1000)
    assert rows[:4].tolist() == [0, 1, 2, 3]
    assert rows[-1] == 999
    assert len(rows) <= MOST_READINGS


def test_a_recovery_that_is_no_line_says_how_far_k_may_be_off() -> None:
    """Slope 1/2 at ln((tp + t)/t) = 1 to 4, and 0.1, -0.1, -0.1, 0.1 m beside the line.

    The sd of the slope is sqrt(0.04 / 2 / 5) = 0.0632, that of ln K twice as much.
    """
    ratio = np.arange(1.0, 5.0)
    head = 1.0 + 0.5 * ratio + np.array([0.1, -0.1, -0.1, 0.1])
    since = 1.0 / (np.exp(ratio) - 1.0)
    k, sd_ln = recovery_after_injection(since, head, flow=2.0 * math.pi, duration=1.0, length=1.0)
    assert k == pytest.approx(1.0)
    assert sd_ln == pytest.approx(0.126491, rel=1e-5)


def test_a_line_through_equal_knots_goes_on_beyond_them() -> None:
    """0, 1, 2 at 0, 1, 2: 2.5 at 2.5 and -0.5 at -0.5, slope 1."""
    x = np.array([-0.5, 0.5, 2.5])
    value, slope = Curves(0.0, 1.0, np.array([[0.0, 1.0, 2.0]]), np.ones((1, 3))).at(x)
    assert value[0] == pytest.approx([-0.5, 0.5, 2.5])
    assert slope[0] == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize(("share", "wanders"), [(0.011, False), (0.0135, True)])
def test_how_far_a_level_may_wander(share: float, wanders: bool) -> None:
    """A sine of 1.1 % of H0 has an rms of 0.78 %, one of 1.35 % of 0.95 %; the limit is 0.8 %."""
    test = partial_penetration.example(1e-5)
    time = test.elapsed_s
    wave = share * abs(test.displacement_m[0]) * np.sin(2.0 * np.pi * 3.0 * time / time[-1])
    moved = dataclasses.replace(test, displacement_m=test.displacement_m + wave)
    assert ("wanders" in "; ".join(partial_penetration.run(moved).notes)) == wanders


def test_a_slug_test_of_ten_minutes_takes_ten_minutes() -> None:
    """Three of them are half an hour; one of half a minute counts as a minute."""
    pace = Pace()
    for seconds, minutes in ((600.0, 30.0), (30.0, 3.0), (1500.0, 25.0)):
        steps = steps_for("hydraulic", pipes=2, purge_s=0.0, test_s=seconds, pace=pace)
        (test,) = (s for s in steps if "slug test" in s.what)
        assert test.minutes == pytest.approx(minutes)


def test_a_hole_may_be_a_tenth_out_of_gauge() -> None:
    """Drilled to 100 mm: a packer element sits where 90 to 110 mm are read."""
    packer = Packer("P", 0.07, 0.075, 0.2, 1.0, 3e5, 2e6)
    assert gauge_limits(packer, 0.1, rules=Rules()) == pytest.approx((0.09, 0.11))


def test_a_wall_on_a_bent_line_keeps_all_of_its_height() -> None:
    """10 m by 5 m, bent at 4 m: two upright pieces of 20 and 30 m2 from 95 to 100 m."""
    line = np.array([[EAST, NORTH], [EAST + 4.0, NORTH], [EAST + 4.0, NORTH + 6.0]])
    wall = upright(shapely.MultiPolygon([shapely.box(0, 95, 10, 100)]), SectionPlane(line))
    heights = [{z for *_, z in part.exterior.coords} for part in wall.geoms]
    assert [(min(h), max(h)) for h in heights] == [(95.0, 100.0)] * 2


def test_gas_is_shown_between_the_depths_of_its_samples() -> None:
    """Sampled from 1 to 3 m below ground at 100 m: from 97 to 99 m; water at 98 m cuts it."""
    hole = {
        "borehole": "G", "x": EAST, "y": NORTH, "ground_elevation_m": 100.0, "depth_m": 9.0,
        "geometry": shapely.Point(EAST, NORTH, 100.0),
    }  # fmt: skip
    zone = {"interval": "G-1", "borehole": "G", "top_m": 1.0, "bottom_m": 3.0, "isolation": "none"}
    site: Any = site_of(borehole=[hole], interval=[zone])
    gas: Any = SimpleNamespace(field=SimpleNamespace(evidence=SimpleNamespace(intervals=("G-1",))))
    plane = SectionPlane(np.array([[EAST, NORTH], [EAST + 50.0, NORTH]]))
    ground = np.array([[0.0, 100.0], [50.0, 100.0]])
    for water, low in ((None, 97.0), (np.array([[0.0, 98.0], [50.0, 98.0]]), 98.0)):
        section: Any = SimpleNamespace(ground=ground, water=water, plane=plane)
        shape = _sampled_part(site, section, gas)
        assert (shape.bounds[1], shape.bounds[3]) == pytest.approx((low, 99.0))


def test_soil_gas_is_told_per_cubic_metre() -> None:
    """0.25 ug/L of gas are 250 ug/m3, its limit of 0.04 ug/L is 40."""
    row = {
        "interval": "G-1", "borehole": "G", "analyte": "TCE", "medium": "soil gas", "round": "R1",
        "value_ug_per_l": 0.25, "limit_ug_per_l": 0.04, "detected": True,
        "geometry": shapely.LineString([(EAST, NORTH, 99.0), (EAST, NORTH, 97.0)]),
    }  # fmt: skip
    (found,) = results_of(site_of(concentration=[row]), "TCE in soil gas")
    assert (found["value"], found["limit"], found["unit"]) == (250.0, 40.0, "ug/m3")


def test_old_heads_are_named_up_to_six() -> None:
    """Eight boreholes: six by name and two more; two boreholes: both by name and no more."""

    def words(count: int) -> str:
        names = [f"B{k}" for k in range(count)]
        heads = pd.DataFrame({"borehole": [*names, "C"], "measured_at": "2031-01-01T10:00:00Z"})
        return left_out(heads, heads[heads["borehole"] == "C"], 400.0) or ""

    assert "8 borehole(s) (B0, B1, B2, B3, B4, B5 and 2 more)" in words(8)
    assert "2 borehole(s) (B0, B1) are" in words(2)


def test_feet_of_the_surveyor_become_metres() -> None:
    """1000 US survey feet are 304.8006 m (1200/3937 m each)."""
    settings = SiteSettings(crs="EPSG:32118", coordinate_m=1200.0 / 3937.0)
    placed = places_in_metres(pd.DataFrame({"x": [1000.0], "y": [2000.0]}), settings)
    assert placed["x"][0] == pytest.approx(304.8006, abs=1e-4)
    assert placed["y"][0] == pytest.approx(609.6012, abs=1e-4)


def test_an_area_that_reaches_far_beyond_the_boreholes_is_told() -> None:
    """30 km to the west, 25 km to the north; 15 km are nothing."""

    def told(west: float, north: float) -> list[Problem]:
        box = shapely.box(EAST - west, NORTH, EAST + 100.0, NORTH + 100.0 + north)
        named = {"name": "yard", "geometry": box, SOURCE_FILE: "areas.geojson", SOURCE_ROW: 1}
        holes = pd.DataFrame({"x": [EAST, EAST + 100.0], "y": [NORTH, NORTH + 100.0]})
        problems: list[Problem] = []
        check_far_shapes(pd.DataFrame([named]), holes, problems)
        return problems

    assert "30 km beyond" in told(30e3, 0.0)[0].found
    assert "25 km beyond" in told(0.0, 25e3)[0].found
    assert told(15e3, 15e3) == []


@pytest.mark.parametrize(("moved", "words"), [(0.0008, ""), (0.0012, SHAPES)])
def test_a_corner_that_moves_by_a_millimetre_is_another_corner(moved: float, words: str) -> None:
    """Less is what files lose of their digits."""
    here = {"name": "yard", "geometry": shapely.Point(EAST, NORTH)}
    file = {"name": "yard", "geometry": shapely.Point(EAST + moved, NORTH)}
    assert differences(file, here, "area") == words


def test_a_porosity_is_below_nine_tenths() -> None:
    """Loose peat has up to about 0.9 (common practice, no source); 0.95 is no ground."""
    assert _parsed("peat=0.9") == ("peat", 0.9)
    with pytest.raises(UsageError, match=r"up to 0\.9"):
        _parsed("peat=0.95")


def test_a_run_lasts_from_its_start_to_its_end() -> None:
    """A minute and a half; an unfinished one has no length."""
    assert _seconds("2031-01-01T10:00:00+00:00", "2031-01-01T10:01:30+00:00") == 90.0
    assert _seconds("2031-01-01T10:00:00+00:00", None) is None


def test_a_frame_of_a_library_is_named_within_it() -> None:
    """Not the folders of the user before it."""
    place = "/home/somebody/env/lib/site-packages/numpy/linalg/core.py"
    frame = traceback.FrameSummary(place, 3, "solve", lookup_line=False)
    assert _frame(frame) == "  numpy/linalg/core.py:3 solve"


def test_boreholes_are_left_out_one_by_one_until_they_are_many() -> None:
    """Up to the limit each is a fold of its own, beyond it they share folds."""
    few, many = np.arange(MOST_SINGLE), np.arange(MOST_SINGLE + 1)
    assert [rows.tolist() for rows in folds_of(few)] == [[k] for k in few]
    assert len(folds_of(many)) == MOST_FOLDS
    assert sorted(np.concatenate(folds_of(many)).tolist()) == many.tolist()


def few_data() -> kriging.Model:
    """Five values under a known covariance."""
    places = np.array([[0, 0, 0], [50, 0, -2], [0, 50, -4], [50, 50, -6], [25, 25, -8.0]])
    data = kriging.Data(support=kriging.Support.from_points(places), value=np.arange(5.0))
    parameters = kriging.Parameters(
        sill=1.0, nugget=0.1, length_along_m=40.0, length_across_m=20.0, length_vertical_m=4.0
    )
    return kriging.krige(data, parameters)


def test_the_solution_of_few_data_is_not_stored() -> None:
    """It is solved for in a moment; a file of every site would only grow."""
    assert _solution(few_data().members[0]) == []


def test_progress_never_runs_ahead_or_back() -> None:
    """Tasks done are told in rising order, up to all of them."""
    told: list[tuple[int, int]] = []
    lattice = kriging.Lattice(origin=(0.0, 0.0, -9.0), step=(1.0, 1.0, 0.5), count=(60, 60, 18))
    few_data().predict(lattice, workers=1, progress=lambda *done: told.append(done))
    assert len(told) > 3
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]


def test_flow_swings_about_its_direction_by_so_many_standard_deviations() -> None:
    """Two sd of 10 deg from east are 110 deg: sin(110 deg) of 0.01 cross a line to the north."""
    gradient = Gradient(0.01, 0.0, 90.0, 10.0, "")
    rng: Any = SimpleNamespace(standard_normal=lambda shape: np.full(shape, 2.0))
    (drawn,) = gradient.drawn_across(np.array([0.0]), realisations=1, rng=rng)
    assert drawn[0] == pytest.approx(0.01 * 0.9396926)


def test_air_in_a_line_lifts_what_is_read_after_it() -> None:
    """From some reading on by 8 to 20 % of the first one, the same for all."""
    made: dict[str, np.ndarray] = {}
    for kind, test in bad_tests(3, each=1):
        made[kind] = test.displacement_m
        if kind == "air":
            break
    lifted = made["air"] - made["radius wrong"]  # whose readings are the true ones
    jump = lifted[-1] / made["radius wrong"][0]
    assert 0.08 <= jump <= 0.2
    assert set(np.round(lifted / lifted[-1], 9)) == {0.0, 1.0}


def test_a_non_detect_is_drawn_around_what_its_neighbour_says() -> None:
    """Precision ((4, 2), (2, 4)) and a neighbour of 1: mean -2/4, variance 1/4, no limit near."""
    data = kriging.Data(
        support=kriging.Support.from_points(np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])),
        value=np.array([np.nan, 1.0]),
        upper=np.array([50.0, np.nan]),
    )
    begin = np.vstack([np.full(4000, 3.0), np.ones(4000)])
    precision, rng = np.array([[4.0, 2.0], [2.0, 4.0]]), np.random.default_rng(1)
    drawn = sweep(data, begin, precision, sweeps=1, rng=rng)
    assert drawn[1] == pytest.approx(1.0)
    assert drawn[0].mean() == pytest.approx(-0.5, abs=0.03)
    assert drawn[0].std() == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize(
    ("x", "known"), [(0.0, 1.0), (1.0, 0.427583576), (2.0, 0.255395676), (10.0, 0.0561409927)]
)
def test_the_scaled_error_function_has_its_tabled_values(x: float, known: float) -> None:
    """exp(x^2) erfc(x): Abramowitz & Stegun (1964), tables of chapter 7, from memory."""
    assert scaled_erfc(x) == pytest.approx(known, rel=1e-8)


def test_the_range_of_a_volume_leaves_a_tenth_on_each_side() -> None:
    """Eleven fields of 0 to 10 m3, 5 in the mean where 50 are expected: 10 to 90 m3."""
    column: Any = SimpleNamespace(wet=np.ones((1, 10)))
    above = np.array([[[layer < field for layer in range(10)]] for field in range(11)])
    assert volume_range(50.0, column, above) == pytest.approx((10.0, 90.0))


def test_a_package_offers_what_is_known_to_be_asked() -> None:
    """Tables are; wings are not, and are named."""
    package = ModuleType("made_up")
    entry: Any = SimpleNamespace(load=lambda: package, name="made_up", value="made_up")
    package.OFFERS = {"tables": "tables:TABLES"}  # type: ignore[attr-defined]
    assert _product_of(entry) is package
    package.OFFERS = {"wings": "wings:WINGS"}  # type: ignore[attr-defined]
    with pytest.raises(UsageError, match="OFFERS with 'wings'"):
        _product_of(entry)


def test_open_hole_up_to_the_water_table_loses_ln_2_of_its_log_ratio() -> None:
    """Its image begins where it ends: the double integral of 1/distance is 2 L ln 2, over 2 L."""
    test = dataclasses.replace(
        hvorslev.example(1e-5), top_m=10.0, static_depth_m=3.0, element_length_m=1.0,
        open_above_m=None, hole_radius_m=0.05,
    )  # fmt: skip
    above, own = open_hole_above(test)
    alone = log_ratio_mean_head(6.0, 0.05, kv_kh=test.kv_kh)
    assert above == pytest.approx(6.0)
    assert alone - own == pytest.approx(math.log(2.0), abs=1e-6)


def test_a_layer_stands_on_its_head_as_well() -> None:
    """3 m of zone with 2 m of layer above and 8 below, or 8 above and 2 below: the same flow."""
    zone = dataclasses.replace(hvorslev.example(1e-5), confined=True, top_m=10.0, bottom_m=13.0)
    one = modes_of(dataclasses.replace(zone, aquifer_top_m=8.0, aquifer_base_m=21.0))
    other = modes_of(dataclasses.replace(zone, aquifer_top_m=2.0, aquifer_base_m=15.0))
    assert one.wave[:40] == pytest.approx(other.wave[:40])
    assert one.weight[:40] == pytest.approx(other.weight[:40])


def test_the_header_is_looked_for_below_what_an_office_writes_above_it() -> None:
    """In the third row, by the name of a column."""
    rows = (("Client: nobody",), ("",), ("Depth to water", "Date"), ("1.2", "2031-05-01"))
    lines = iter([Line(number, cells) for number, cells in enumerate(rows, start=1)])
    profile: Any = SimpleNamespace(header_row="Date")
    assert _header_rows(lines, profile, "levels.csv", {}) == (3,)


def test_coordinates_in_feet_are_known_as_such() -> None:
    """500 000 m and 5 000 000 m are 1 640 420 and 16 404 199 feet."""
    words = _likely(np.array([1_640_420.0]), np.array([16_404_199.0]), CRS)
    assert "may be in feet" in words


def test_only_notes_and_references_of_a_method_are_explained() -> None:
    """What it raises is for programmers."""

    def method() -> None:
        """K = Q.

        Raises
        ------
        DataError
            No line.

        Notes
        -----
        The level falls.
        """

    assert list(_sections(method)) == ["  Notes:", "    The level falls."]


def test_places_are_seen_from_the_middle_of_the_data() -> None:
    """At real coordinates, so that no digits are lost: within the extent of 50 m."""
    model = few_data()
    far = kriging.Support.from_points(model.data.support.centre + np.array([EAST, NORTH, 0.0]))
    data = dataclasses.replace(model.data, support=far)
    (member,) = kriging.krige(data, model.members[0].parameters).members
    layout = member.system.layout
    assert np.abs(layout.points).max() < 50.0
    assert layout.origin == pytest.approx([EAST + 25.0, NORTH + 25.0, -4.0])


def test_a_depth_below_the_end_of_a_leaning_hole_goes_on_as_it_leans() -> None:
    """30 m at 60 deg from vertical end 15 m deep; 20 m deep are 40 m along."""
    stations = (np.array([0.0, 30.0]), np.full(2, 60.0), np.full(2, 90.0))
    path = trajectory((EAST, NORTH, 100.0), 30.0, stations)
    assert below_ground(path, 20.0).along_m == pytest.approx(40.0)
    assert below_ground(path, 10.0).along_m == pytest.approx(20.0)


def test_the_curve_of_a_fit_has_five_knots_a_decade() -> None:
    """As `PER_DECADE` says: with fewer the table would lose digits at every step."""
    zone = dataclasses.replace(hvorslev.example(1e-5), top_m=10.0, bottom_m=13.0)
    spline = tabulate(modes_of(dataclasses.replace(zone, aquifer_base_m=21.0))).spline
    assert spline is not None
    assert 0.4 < spline.step <= math.log(10.0) / 5.0


def test_a_level_outside_that_never_moves_leaves_a_thousandth_of_the_water() -> None:
    """The least that is reckoned with: 10 m for 1e6 s through 1e-6 m2/s are 10 m3, 10 L of it."""
    still = Balance(
        seconds=np.array([1e6]), head_m=np.array([10.0]), outside_m=np.array([0.0]),
        outside_sd_m=np.array([2e-5]), volume_m3=10.0, area_m2=0.01, over_span=False,
    )  # fmt: skip
    share, sd = passed_share(still, 1e-6, 1.0)
    assert share == pytest.approx(1e-3, rel=1e-3)
    assert sd < 1e-5
