"""Soil gas beside water, criteria of each, results that contradict each other or their place."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from geoprofile import app
from geoprofile.report.content import Content
from geoprofile.report.parts import concentrations
from geoprofile.site import Site, records_of

sys.path.insert(0, str(Path(__file__).parents[1] / "cli"))
import corner_site

ZONES = [  # interval, hole, top, bottom, medium, benzene in its unit
    ("g1", "B1", 1.0, 2.0, "soil gas", "5000", "ug/m3"),
    ("g2", "B1", 2.5, 3.5, "soil gas", "200", "ug/m3"),
    ("g3", "B1", 9.0, 10.0, "soil gas", "300", "ug/m3"),
    ("w1", "B1", 12.0, 14.0, "water", "300", "ug/L"),
    ("w2", "T1", 12.0, 14.0, "water", "0.6", "ug/L"),
    ("w3", "B2", 12.0, 14.0, "water", "0.5", "ug/L"),
    ("w4", "T1", 16.0, 18.0, "water", "<0.5", "ug/L"),
    ("w5", "B1", 16.0, 18.0, "water", "<400", "ug/L"),
]
HOLES = {"B1": (0.0, 0.0), "T1": (0.6, 0.0), "B2": (40.0, 0.0)}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Water at 6 m; a twin 0.6 m aside; criteria of 10 ug/L in water and 1000 ug/m3 in gas."""
    table = corner_site.table
    files = {
        "boreholes.csv": corner_site.boreholes(HOLES),
        "intervals.csv": table(
            "interval,borehole,top_m,bottom_m,isolation",
            [(n, h, a, b, "screen") for n, h, a, b, *_ in ZONES],
        ),
        "water_levels.csv": table(
            "borehole,measured_at,depth_to_water_m",
            [(h, "2026-05-01T10:00", 6.0) for h in HOLES],
        ),
        "samples.csv": table(
            "sample,interval,sampled_at,round,medium",
            [(f"S{n}", n, "2026-06-01T09:30", "R1", m) for n, *_, m, _, _ in ZONES],
        ),
        "results.csv": table(
            "sample,analyte,value,unit", [(f"S{n}", "benzene", v, u) for n, *_, v, u in ZONES]
        ),
        "criteria.csv": "analyte,medium,value,unit,basis\nbenzene,,10,ug/L,made up\n"
        "benzene,soil gas,1000,ug/m3,made up\n",
    }
    folder = corner_site.write(tmp_path_factory.mktemp("media"), files)
    database = folder / "site.gpkg"
    app.create(database, crs="EPSG:32632")
    app.load(database, [folder])
    _, made = app.derive(database, ["concentration"], command="check")
    return made


def test_each_medium_is_held_against_its_own_criterion(site: Site) -> None:
    """5000 ug/m3 is 5 ug/L: below the water criterion, above that of gas."""
    exceeds = {row["interval"]: row["exceeds"] for row in records_of(site.concentration)}
    assert {name for name, above in exceeds.items() if above} == {"g1", "w1"}
    assert exceeds["g2"] is not None
    assert exceeds["w5"] is None  # its limit lies above the criterion


def test_gas_and_water_stand_apart_in_the_report(site: Site) -> None:
    """Two tables; gas in ug/m3."""
    page = concentrations(Content(site))
    water, gas = page.split("Soil gas is held")
    assert "5000" not in water.replace(" ", "").replace(",", "")
    assert "ug/m" in gas.replace("µ", "u").replace("μ", "u")
    assert "5000" in gas.replace("\u202f", "").replace(" ", "").replace(",", "")


def told(site: Site) -> list[str]:
    """What was found, in words."""
    return [str(row["what"]) for row in records_of(site.table("finding"))]


def test_gas_from_below_the_water_is_questioned(site: Site) -> None:
    """Only the zone from 9 m, 3 m below the water."""
    words = [w for w in told(site) if "soil-gas" in w]
    assert words == ["a soil-gas sample from g3, which starts 3.0 m below the water level"]


def test_contradicting_results_at_one_place_are_told(site: Site) -> None:
    """300 beside 0.6 in the twin: a factor of 500. A limit above the other value says nothing."""
    words = [w for w in told(site) if "differ by a factor" in w]
    assert words == ["two results of benzene (R1) 0.6 m apart differ by a factor of 500"]
