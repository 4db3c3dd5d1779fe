"""Logger readings of every kind become displacement from the static level."""

from __future__ import annotations

import numpy as np
import pytest

LOG = "readings/T1.csv"


def shown(intake, column: str = "displacement_m"):
    """The readings of test T1."""
    frame = intake.tables["reading"]
    return frame.loc[frame["test"] == "T1", column].to_numpy()


def test_file_name_names_the_test(taken):
    """Readings without a column `test` belong to the test of the file's name."""
    frame = taken().tables["reading"]
    assert frame["test"].tolist() == ["T1"] * 4
    assert frame["number"].tolist() == [1, 2, 3, 4]


def test_one_long_file_holds_many_tests(taken):
    """A column `test` tells the tests of one file apart."""
    text = "test,elapsed_s,displacement_m\nT2,0,-0.5\nT1,0,0.5\nT2,1,-0.4\n"
    frame = taken({LOG: None, "readings.csv": text}).tables["reading"]
    assert frame["test"].tolist() == ["T1", "T2", "T2"]
    assert frame["displacement_m"].tolist() == [0.5, -0.5, -0.4]


def test_depth_to_water_turns_round(taken):
    """Water 0.8 m above a static depth of 3.2 m is a displacement of +0.8 m."""
    text = "elapsed_s,depth_to_water_m\n0,2.4\n1,2.7\n"
    assert shown(taken({LOG: text})) == pytest.approx([0.8, 0.5])


def test_readings_before_the_start_are_the_static_level(taken):
    """The median of the readings before the start goes before the interval's static depth."""
    text = "elapsed_s,depth_to_water_m\n-20,3.0\n-10,3.1\n-5,9.9\n0,2.4\n"
    assert shown(taken({LOG: text}))[-1] == pytest.approx(3.1 - 2.4)


def test_elevation_of_the_water(taken):
    """Ground 101.5 m less static depth 3.2 m is 98.3 m."""
    text = "elapsed_s,head_m\n0,99.1\n1,98.3\n"
    assert shown(taken({LOG: text})) == pytest.approx([0.8, 0.0])


def test_vented_pressure(taken):
    """10 kPa is 1.02002 m of water at 10 C (density 999.703 kg/m3, Tanaka et al. 2001)."""
    text = "elapsed_s,pressure_kpa\n-1,50\n0,60\n"
    assert shown(taken({LOG: text}))[1] == pytest.approx(1.02002, abs=2e-5)


def test_vented_pressure_with_the_depth_of_the_sensor(taken):
    """Without readings before the start the sensor's depth and the static depth give the level."""
    text = "elapsed_s,pressure_kpa,sensor_depth_m\n0,60,8.52\n"
    # 60 kPa is 6.1201 m above 8.52 m: 2.3999 m deep, 0.8001 m above static
    assert shown(taken({LOG: text}))[0] == pytest.approx(0.8001, abs=1e-4)


def test_absolute_pressure_less_the_barometer(taken):
    """186.42 and 101.15 kPa at 10 C are 8.69774 m of water: a worked example from memory."""
    barometer = "measured_at,pressure_kpa\n2026-05-05T09:00,101.15\n2026-05-05T11:00,101.15\n"
    text = "elapsed_s,absolute_pressure_kpa\n-1,101.15\n0,186.42\n"
    found = shown(taken({LOG: text, "barometer.csv": barometer}))
    # the example does not state its density to more than five digits
    assert found[1] == pytest.approx(8.69774, rel=1e-5)


def test_barometer_is_taken_between_its_records(taken):
    """Air pressure that rises 0.2 kPa in an hour is taken at the time of each reading."""
    barometer = "measured_at,pressure_kpa\n2026-05-05T10:00,100\n2026-05-05T11:00,100.2\n"
    text = "measured_at,absolute_pressure_kpa\n2026-05-05T09:59:59,150\n2026-05-05T10:30,150.1\n"
    found = shown(taken({LOG: text, "barometer.csv": barometer}))
    assert found == pytest.approx([0.0, 0.0], abs=1e-9)


def test_barometer_in_other_units(taken):
    """A barometer in hectopascals is converted like every column."""
    barometer = "measured_at,pressure_hpa\n2026-05-05T09:00,1000\n2026-05-05T11:00,1000\n"
    text = "elapsed_s,absolute_pressure_kpa\n-1,150\n0,160\n"
    found = shown(taken({LOG: text, "barometer.csv": barometer}))
    assert found[1] == pytest.approx(1.02002, abs=2e-5)


def test_times_of_day_are_counted_from_the_start(taken):
    """measured_at becomes seconds since started_at of the test, fractions included."""
    text = "measured_at,displacement_m\n2026-05-05T09:59:50,0\n2026-05-05T10:00:01.250,0.5\n"
    assert shown(taken({LOG: text}), "elapsed_s") == pytest.approx([-10, 1.25])


def test_readings_outside_the_zone(taken):
    """Readings outside the zone become displacement from their own level before the start."""
    text = "elapsed_s,displacement_m,outside_depth_to_water_m\n-1,0,5.0\n0,0.8,4.9\n"
    found = shown(taken({LOG: text}), "outside_displacement_m")
    assert found == pytest.approx([0.0, 0.1])


def test_repeated_times_are_kept_in_order(taken):
    """A logger that repeats a time keeps both readings, in the order of the file."""
    text = "elapsed_s,displacement_m\n0,0.8\n0,0.79\n1,0.7\n"
    assert shown(taken({LOG: text})).tolist() == [0.8, 0.79, 0.7]


def test_time_and_level_in_other_units(taken):
    """Minutes and feet in the header become seconds and metres."""
    text = "elapsed_min,displacement_ft\n0,1\n0.5,0.5\n"
    found = taken({LOG: text}).tables["reading"]
    assert found["elapsed_s"].tolist() == [0, 30]
    assert found["displacement_m"].to_numpy() == pytest.approx([0.3048, 0.1524])


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("elapsed_s,depth_to_water_m,test\n0,2.4,T2\n", None),
        ("elapsed_s,displacement_m,head_m\n0,1,99\n", "displacement_m and head_m"),
        ("elapsed_s,displacement_m\n0,1\n,2\n", "without a time"),
        ("elapsed_s,displacement_m\n0,1\n1,\n", "1 rows without displacement_m"),
        ("elapsed_s\n0\n", "no readings"),
        ("elapsed_s,absolute_pressure_kpa\n-1,150\n0,160\n", "barometer"),
        ("elapsed_s,pressure_kpa\n0,60\n", "static level"),
        ("elapsed_s,outside_pressure_kpa,displacement_m\n0,60,1\n", "static level"),
        ("elapsed_s,displacement_m,test\n0,1,T9\n", "'T9'"),
    ],
)
def test_readings_that_cannot_be_used_are_told(taken, one, text, word):
    """No time, no static level, two kinds at once, an unknown test: one message each."""
    if word is None:  # T2 has a static depth of its own
        frame = taken({LOG: text}).tables["reading"]
        assert frame["displacement_m"].to_numpy() == pytest.approx([3.5 - 2.4])
        return
    assert word in one({LOG: text}).found


def test_clock_that_is_off_is_told(one):
    """Readings at times without barometer are refused: a wrong time zone is the common reason."""
    barometer = "measured_at,pressure_kpa\n2026-05-05T07:00,100\n2026-05-05T08:00,100\n"
    text = "elapsed_s,absolute_pressure_kpa\n-1,150\n0,160\n"
    problem = one({LOG: text, "barometer.csv": barometer})
    assert "time zones" in problem.advice


def test_measured_at_needs_a_start(one):
    """A test without a start cannot count from it."""
    text = "measured_at,displacement_m\n2026-05-05T10:00:00,0.5\n"
    assert "started_at" in one({LOG: None, "readings/T2.csv": text}).expected


def test_the_same_log_twice_is_told(one):
    """A copy of a log under another name is not read as more readings."""
    text = "test,elapsed_s,displacement_m\nT1,0,0.8\nT1,1,0.7\n"
    problem = one({LOG: None, "readings/a.csv": text, "readings/b.csv": text})
    assert "readings/a.csv and readings/b.csv" in problem.found


def test_missing_temperature_is_noted(taken):
    """Pressure without a temperature is converted at 10 C, and that is said."""
    tests = "test,interval,kind\nT1,B1-1,falling head\n"
    read = taken({"tests.csv": tests, LOG: "elapsed_s,pressure_kpa\n-1,50\n0,60\n"})
    assert shown(read)[1] == pytest.approx(1.02002, abs=2e-5)
    assert "10 degrees" in read.notes[0].found


def test_depths_from_the_measuring_point(taken):
    """Depth to water from the measuring point 0.5 m up meets a static depth from ground."""
    text = "elapsed_s,depth_to_water_m,depth_from\n0,2.9,measuring point\n"
    assert shown(taken({LOG: text})) == pytest.approx([0.8])


def test_readings_come_as_floats_without_gaps(taken):
    """The table has the columns and types of the schema."""
    frame = taken().tables["reading"]
    assert frame["elapsed_s"].dtype == np.float64
    assert frame["displacement_m"].dtype == np.float64
    assert frame["outside_displacement_m"].isna().all()


def test_readings_alone_join_a_site_that_is_stored(taken, folder):
    """A log loaded by itself finds its test, interval and static depth in the database."""
    from geoprofile import intake

    known = {n: f for n, f in taken().tables.items() if n != "reading"}
    place = folder({LOG: "elapsed_s,depth_to_water_m\n0,2.4\n"})
    files = intake.find_files(place, only=place / LOG)
    tables = intake.read_files(files, intake.read_settings(place), known).tables
    assert list(tables) == ["reading"]
    assert tables["reading"]["displacement_m"].to_numpy() == pytest.approx([0.8])
