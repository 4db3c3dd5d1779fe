"""Numbers that pass from tables to mathematics and back, by hand, where real coordinates lie.

Easting about 500 000 and northing about 5 000 000: what only holds at the origin fails here.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoprofile import kriging, packers
from geoprofile.engine.rows import frame
from geoprofile.geometry import SectionPlane
from geoprofile.geometry.contours import polygons
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.kriging.fit.data_requirements import warnings_of
from geoprofile.packers.purge import feasible_rate
from geoprofile.plugins import registry
from geoprofile.products.advice.places import Places, Zones, costs
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.conductivity.inputs import hydraulic_tests
from geoprofile.products.discharge.gradients import gradient_of
from geoprofile.products.maps.measured import results_of
from geoprofile.products.packer_plan.duration import timed
from geoprofile.products.plume.site_boundary import distance_to_site_boundary
from geoprofile.site import Site

CRS = "EPSG:32632"
EAST, NORTH = 500_000.0, 5_000_000.0


def site_of(**rows: list[dict[str, Any]]) -> Site:
    """A site of the tables named, at real coordinates."""
    return Site("made up", CRS, "datum", tables={n: frame(n, r, CRS) for n, r in rows.items()})


HOLE = {
    "borehole": "W", "x": EAST, "y": NORTH, "ground_elevation_m": 312.0, "depth_m": 40.0,
    "geometry": shapely.Point(EAST, NORTH, 312.0),
}  # fmt: skip
INTERVAL = {
    "interval": "W-1", "borehole": "W", "top_m": 20.0, "bottom_m": 22.5, "isolation": "straddle",
    "static_depth_m": 5.0,
}  # fmt: skip
OPEN = {"borehole": "W", "top_m": 0.0, "bottom_m": 40.0, "kind": "open hole", "diameter_mm": 96.0}


def injected() -> HydraulicTest:
    """12 L/min at 150 kPa of a gauge 0.8 m above ground, through pipe of 38 mm."""
    test = {
        "test": "T", "interval": "W-1", "kind": "constant head", "riser_diameter_mm": 38.0,
        "status": "use", "water_temperature_c": 10.0,
    }  # fmt: skip
    step = {
        "test": "T", "step": 1, "flow_l_min": 12.0, "gauge_pressure_kpa": 150.0,
        "gauge_height_m": 0.8, "minutes": 10.0,
    }  # fmt: skip
    site = site_of(
        borehole=[HOLE], interval=[INTERVAL], construction=[OPEN], test=[test], pressure_step=[step]
    )
    ((_, record),) = hydraulic_tests(site)
    assert isinstance(record, HydraulicTest)
    return record


def test_a_gauge_in_kilopascal_and_a_meter_in_litres_a_minute() -> None:
    """150 kPa is 150 000 Pa, 12 L/min are 2e-4 m3/s, 38 mm are 0.038 m, 96 mm a radius of 0.048."""
    record = injected()
    (step,) = record.pressure_steps
    assert step.gauge_pressure_pa == pytest.approx(150_000.0, rel=1e-12)
    assert step.flow_m3_per_s == pytest.approx(2.0e-4, rel=1e-12)
    assert step.gauge_height_m == pytest.approx(0.8)
    assert record.pipe is not None
    assert record.pipe.inner_diameter_m == pytest.approx(0.038)
    assert record.pipe.length_m == pytest.approx(20.0)
    assert record.hole_radius_m == pytest.approx(0.048)
    assert record.interval_length_m == pytest.approx(2.5)


def test_k_of_a_test_that_was_read_at_the_gauge() -> None:
    """Thiem by hand, pipe loss from Blasius, to 0.5 %.

    Head: 150 000 / (999.7 x 9.80665) + 0.8 + 5.0 = 21.100 m. Loss of 20.8 m of smooth pipe at
    2e-4 m3/s: v = 0.17634 m/s, Re = 0.17634 x 0.038 / 1.307e-6 = 5127, f = 0.316 / Re^0.25 =
    0.03734, f L v^2 / (2 g D) = 0.0324 m (0.15 % of the head). K = 2e-4 x ln(2.5/0.048) /
    (2 pi x 2.5 x 21.068) = 7.9056e-4 / 330.94 = 2.389e-6 m/s.
    """
    found = registry.plugins("methods")["thiem"].run(injected())
    assert found.k_m_per_s == pytest.approx(2.389e-6, rel=5e-3)


def test_purge_rate_of_a_zone() -> None:
    """2 pi x 1e-7 x 1.5 x 5 / 3.4430 = 1.3687e-6 m3/s, P = ln(15.625 + 15.657); 0.0821 L/min."""
    rate = feasible_rate(1e-7, 1.5, 0.048, drawdown_m=5.0)
    assert rate == pytest.approx(1.3687e-6, rel=2e-4)
    assert rate * 60_000 == pytest.approx(0.0821, rel=1e-3)


def test_reported_start_of_a_rising_head() -> None:
    """A level drawn down by 0.56 m is told as -0.56 m, not as its inverse."""
    plugin = registry.plugins("methods")["radial-storage"]
    made = plugin.example(1e-5)
    scaled = -0.56 / float(made.displacement_m[0])
    record = HydraulicTest(
        **{
            **vars(made),
            "kind": "rising head",
            "displacement_m": scaled * made.displacement_m,
            "expected_displacement_m": 0.56,
        }
    )
    assert plugin.run(record).initial_displacement_m == pytest.approx(-0.56, rel=0.01)


def test_bounds_of_a_concentration() -> None:
    """100 ug/L with 0.1 in log10: 10^(1.95996 x 0.1) = 1.5703, so 63.68 to 157.03 ug/L."""
    row = {
        "interval": "W-1", "borehole": "W", "analyte": "toluene", "medium": "water", "round": "R1",
        "sampled_at": "2031-04-01T10:00:00Z", "value_ug_per_l": 100.0, "limit_ug_per_l": None,
        "detected": True, "sd_log10": 0.1, "geometry": shapely.Point(EAST, NORTH, 290.0),
    }  # fmt: skip
    (found,) = results_of(site_of(concentration=[row]), "toluene")
    assert found["low"] == pytest.approx(63.68, rel=1e-3)
    assert found["high"] == pytest.approx(157.03, rel=1e-3)


@pytest.mark.parametrize(("value", "unit", "found"), [(0.01, "mg/L", 10.0), (250.0, "ng/L", 0.25)])
def test_criterion_in_micrograms(value: float, unit: str, found: float) -> None:
    """0.01 mg/L are 10 ug/L; 250 ng/L are 0.25 ug/L."""
    site = site_of(criterion=[{"analyte": "toluene", "value": value, "unit": unit, "basis": "-"}])
    assert criteria_ug_per_l(site)["toluene"] == pytest.approx(found, rel=1e-12)


def test_cost_of_a_new_borehole() -> None:
    """(18 + 1.5) m x 0.5 + 2 zones x (1 + 1) = 13.75; no zones, next to no cost."""
    flat = np.array([312.0, 312.0])
    places = Places(np.array([[EAST, NORTH], [EAST + 40, NORTH]]), flat, flat * 0, flat * 0 + 25)
    zones = Zones(np.array([0, 0]), np.array([10.0, 16.0]), np.array([12.0, 18.0]))
    settings = {"cost_metre": 0.5, "cost_move": 1.0, "cost_sample": 1.0, "sump_m": 1.5}
    assert costs(places, zones, settings)[0] == pytest.approx(13.75)
    assert costs(places, zones, settings)[1] == pytest.approx(1e-9)


def test_pipes_are_the_difference_to_the_zone_before() -> None:
    """7 pipes for the first zone, 4 more for the second at 11, 2 fewer for the third at 9; from the
    second zone on the pipes lie ready.
    """
    from geoprofile.products.packer_plan.plan import Visit

    pace = packers.Pace()
    visits = [_visit(Visit, pipes) for pipes in (7, 11, 9)]
    kept = SimpleNamespace(pace=pace, pump_m3_s=1e-4, longest_purge_s=3600.0)
    placed = timed(visits, "hydraulic", kept)  # type: ignore[arg-type]
    minutes = [v.steps[0].minutes for v in placed]
    assert minutes == pytest.approx(
        [pace.set_min - ready + pace.pipe_min * n for n, ready in ((7, 0), (4, 10), (2, 10))]
    )


def _visit(kind: type, pipes: int) -> Any:
    """A visit of which only pipes, purge and stop are looked at."""
    given = dict.fromkeys(kind.__dataclass_fields__)
    given.update(
        tally=SimpleNamespace(pipes=pipes), purge_s=600.0, steps=(),
        choice=SimpleNamespace(stop_s=300.0, method="slug test"),
        purge=SimpleNamespace(time_s=lambda rate: 300.0),
    )  # fmt: skip
    return kind(**given)


def test_reach_of_the_heads_for_a_local_gradient() -> None:
    """Holes over 400 m by 300 m: a quarter of 500 m is 125 m, so the holes at 130 m do not count.

    Heads fall by 0.01 to the east; those beyond 125 m from the line say another thing.
    """
    places = [(-100, 0), (-100, 120), (0, 60), (100, 0), (100, 120), (-200, 150), (200, -150)]
    heads = [
        {
            "borehole": f"W{i}", "interval": None, "measured_at": "2031-04-01T10:00:00Z",
            "head_m": 300.0 - 0.01 * east if abs(east) < 125 else 250.0, "sd_m": 0.01,
            "geometry": shapely.Point(EAST + east, NORTH + north, 300.0),
        }
        for i, (east, north) in enumerate(places)
    ]  # fmt: skip
    flow = {
        "measured_at": None, "gradient": 0.1, "gradient_sd": 0.0, "azimuth_deg": 45.0,
        "azimuth_sd_deg": 0.0, "boreholes": 7,
        "geometry": shapely.LineString([(EAST, NORTH, 0), (EAST + 1, NORTH, 0)]),
    }  # fmt: skip
    plane = SectionPlane(np.array([[EAST, NORTH - 150.0], [EAST, NORTH + 150.0]]))
    site = site_of(head=heads, flow=[flow])
    found = gradient_of(site, plane, {"gradient": "local", "reach_m": 0.0})
    assert "heads of 5 boreholes" in found.origin
    assert found.slope == pytest.approx(0.01, rel=1e-6)
    assert found.azimuth_deg == pytest.approx(90.0, abs=1e-6)


SITE = polygons(shapely.box(EAST, NORTH, EAST + 100.0, NORTH + 60.0))


def test_way_to_the_border_of_the_site() -> None:
    """From 30 m east of the west border to 100 m: 70 m; northwards from 45 to 60 m: 15 m."""
    extent = polygons(shapely.box(EAST + 20, NORTH + 25, EAST + 30, NORTH + 45))

    def never(xy: np.ndarray) -> np.ndarray:
        raise AssertionError(len(xy))

    for azimuth, metres in ((90.0, 70.0), (0.0, 15.0)):
        found = distance_to_site_boundary(extent, SITE, azimuth, probability=0.5, evaluate=never)
        assert found == pytest.approx(metres, abs=0.02)


def test_way_beyond_the_border_of_the_site() -> None:
    """The chance falls under a half 17 m east of the border: -17 m or a step less.

    Half of the size, 116.6 m, in 40 steps of 1.458 m: 11 of them stay inside, 16.03 m.
    """
    extent = polygons(shapely.box(EAST + 60, NORTH + 20, EAST + 100, NORTH + 40))
    found = distance_to_site_boundary(
        extent, SITE, 90.0, probability=0.5,
        evaluate=lambda xy: np.where(xy[:, 0] < EAST + 117.0, 0.9, 0.1),
    )  # fmt: skip
    assert found == pytest.approx(-16.03, abs=0.01)


@pytest.mark.parametrize(("detected", "told"), [(9, False), (8, False), (7, True)])
def test_a_fifth_of_the_tests_must_be_detected(detected: int, told: bool) -> None:
    """Of 40 tests 8 are a fifth: 7 are too few to know levels, 8 and 9 are not."""
    n = 40
    xyz = np.array([[EAST + 5.0 * i, NORTH + 3.0 * (i % 7), 290.0] for i in range(n)])
    seen = np.arange(n) < detected
    data = kriging.Data(
        support=kriging.Support.from_points(xyz),
        value=np.where(seen, np.linspace(0, 1, n), np.nan),
        upper=np.where(seen, np.nan, -1.0),
        group=np.arange(n) // 4,
    )
    assert any("levels are poorly known" in words for words in warnings_of(data)) is told


def test_a_map_of_the_site_lies_on_the_site() -> None:
    """Holes over 200 m by 100 m: the map lies round them, not round the origin."""
    from geoprofile.products.maps.grids import domain_of

    holes = [
        {**HOLE, "borehole": f"W{i}", "x": x, "y": y, "geometry": shapely.Point(x, y, 312.0)}
        for i, (x, y) in enumerate((EAST + e, NORTH + n) for e in (0, 200) for n in (0, 100))
    ]
    west, south, east, north = domain_of(site_of(borehole=holes)).bounds
    assert EAST - 150 < west <= EAST
    assert EAST + 200 <= east < EAST + 350
    assert NORTH - 150 < south <= NORTH
    assert NORTH + 100 <= north < NORTH + 250
    assert isinstance(site_of(borehole=holes).boreholes, gpd.GeoDataFrame)
