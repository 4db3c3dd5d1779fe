"""A small invented site and a field in closed form, for layers, sections and figures."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.special import ndtr

from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.units import geology
from geoprofile.site import Site

CRS = "EPSG:32628"
EAST, NORTH = 500_000.0, 4_000_000.0
LIMIT = 0.5


@dataclass(frozen=True)
class ClosedFormAt:
    """Values of the closed-form field at points."""

    median: np.ndarray
    low: np.ndarray
    high: np.ndarray
    log10_mean: np.ndarray
    log10_sd: np.ndarray


@dataclass(frozen=True)
class ClosedFormField:
    """A smooth bell in space on the log10 scale whose spread grows with the distance from it."""

    quantity: str = "toluene"
    round: str | None = "spring"
    unit: str = "ug/L"
    criterion: float | None = 10.0
    top: float = 2.5
    floor: float = -1.5
    limits_only: bool = False
    highest: float = float("inf")

    def at(self, points):
        """Bell and spread at points (n, 3) [m]."""
        x, y, z = (np.asarray(points) - [EAST + 90.0, NORTH + 60.0, -8.0]).T
        reach = (x / 60.0) ** 2 + (y / 25.0) ** 2 + (z / 5.0) ** 2
        mean = self.floor + (self.top - self.floor) * np.exp(-0.5 * reach)
        sd = 0.15 + 0.5 * (1 - np.exp(-0.15 * reach))
        return ClosedFormAt(
            10**mean, 10 ** (mean - 1.2816 * sd), 10 ** (mean + 1.2816 * sd), mean, sd
        )

    def exceedance(self, points, criterion=None, *, doubted=True):
        """Probability above the criterion."""
        at = self.at(points)
        return ndtr((at.log10_mean - np.log10(criterion or self.criterion)) / at.log10_sd)

    def assumed(self, points):
        """East of the bell nothing holds its shape."""
        return (np.asarray(points)[:, 0] > EAST + 120.0).astype(float)

    def simulate(self, points, *, realisations, rng):
        """Fields that differ by one number each: a column exceeds where its best box does."""
        at = self.at(points)
        return 10 ** (at.log10_mean + rng.standard_normal((realisations, 1)) * at.log10_sd)


def _boreholes():
    rows = []
    for i in range(4):
        for j in range(3):
            x, y = EAST + 20.0 + 50.0 * i, NORTH + 15.0 + 45.0 * j
            rows.append((f"B{3 * i + j + 1}", x, y, 12.0 - 0.01 * (x - EAST), 28.0 + 2 * j))
    frame = pd.DataFrame(rows, columns=["borehole", "x", "y", "ground_elevation_m", "depth_m"])
    points = [shapely.Point(r[1], r[2], r[3]) for r in rows]
    return gpd.GeoDataFrame(frame, geometry=points, crs=CRS)


def _survey():
    rows = [("B5", 0.0, 15.0, 80.0), ("B5", 15.0, 18.0, 90.0), ("B5", 30.0, 20.0, 95.0)]
    return pd.DataFrame(rows, columns=["borehole", "depth_m", "inclination_deg", "azimuth_deg"])


def _intervals(holes):
    rows = [
        (f"{hole.borehole}-{k}", hole.borehole, top, top + (2.0 if k % 2 else 3.5))
        for hole in holes.itertuples()
        for k, top in enumerate((9.0, 14.0, 19.0, 23.5))
    ]
    frame = pd.DataFrame(rows, columns=["interval", "borehole", "top_m", "bottom_m"])
    return frame.assign(isolation="straddle", packer=None, static_depth_m=4.0)


def _areas():
    shape = shapely.box(EAST, NORTH, EAST + 200.0, NORTH + 120.0)
    return gpd.GeoDataFrame(
        {"name": ["works", "store"], "kind": ["site", "source"]},
        geometry=[shape, shapely.box(EAST + 60, NORTH + 50, EAST + 75, NORTH + 65)],
        crs=CRS,
    )


def _lines():
    shapes = [
        shapely.LineString([(EAST + 5, NORTH + 60), (EAST + 195, NORTH + 60)]),
        shapely.LineString(
            [(EAST + 60, NORTH + 5), (EAST + 75, NORTH + 60), (EAST + 130, NORTH + 115)]
        ),
    ]
    return gpd.GeoDataFrame({"name": ["along", "across"]}, geometry=shapes, crs=CRS)


def _heads(holes):
    points = [shapely.Point(h.x, h.y, h.ground_elevation_m - 6.0) for h in holes.itertuples()]
    frame = pd.DataFrame(
        {
            "interval": None,
            "borehole": holes["borehole"],
            "measured_at": "2031-05-06T09:00:00Z",
            "head_m": holes["ground_elevation_m"] - 4.0,
        }
    )
    return gpd.GeoDataFrame(frame, geometry=points, crs=CRS)


def _values(intervals, lines, fields):
    middles = np.array([lines[i].mean(axis=0) for i in intervals["interval"]])
    common = {
        "interval": intervals["interval"],
        "borehole": intervals["borehole"],
        "top_m": intervals["top_m"],
        "bottom_m": intervals["bottom_m"],
    }
    shapes = [shapely.LineString(lines[i]) for i in intervals["interval"]]
    k = fields["K"].at(middles).median
    conductivity = gpd.GeoDataFrame(
        {
            **common,
            "k_m_per_s": k,
            "k_low_m_per_s": k / 1.6,
            "k_high_m_per_s": k * 1.6,
            "sd_log10_k": 0.1,
            "grade": "accepted",
            "notes": None,
        },
        geometry=shapes,
        crs=CRS,
    )
    value = fields["toluene"].at(middles).median
    found = value >= LIMIT
    concentration = gpd.GeoDataFrame(
        {
            **common,
            "analyte": "toluene",
            "round": "spring",
            "medium": "water",
            "sampled_at": "2031-05-08T10:00:00Z",
            "value_ug_per_l": np.where(found, value, np.nan),
            "detected": found,
            "limit_ug_per_l": np.where(found, np.nan, LIMIT),
            "sd_log10": 0.08,
            "exceeds": value > 10.0,
        },
        geometry=shapes,
        crs=CRS,
    )
    return conductivity, concentration


@pytest.fixture(scope="session")
def closed_fields():
    """K and one analyte in closed form."""
    k = ClosedFormField("K", None, "m/s", None, top=-4.0, floor=-6.5)
    return {"K": k, "toluene": ClosedFormField()}


@pytest.fixture(scope="session")
def mapped_site(closed_fields):
    """Twelve holes, one of them inclined, 48 intervals with values from the closed form."""
    holes = _boreholes()
    intervals = _intervals(holes)
    tables = {
        "borehole": holes,
        "survey": _survey(),
        "interval": intervals,
        "area": _areas(),
        "section_line": _lines(),
        "head": _heads(holes),
    }
    bare = Site("works", CRS, "local datum", tables=tables)
    conductivity, concentration = _values(intervals, interval_lines(bare), closed_fields)
    return bare.with_tables({"interval_conductivity": conductivity, "concentration": concentration})


@pytest.fixture(scope="session")
def layered_site(mapped_site):
    """The small site with units; the three eastern holes B10 to B12 lack the clay."""
    rows = []
    for hole in mapped_site.boreholes.itertuples():
        log = [(0.0, "fill"), (3.0, "sand"), (14.0, "clay"), (18.0, "rock")]
        if hole.borehole in ("B10", "B11", "B12"):
            log.pop(2)
        ends = [*(top for top, _ in log[1:]), hole.depth_m]
        rows += [(hole.borehole, t, e, name) for (t, name), e in zip(log, ends, strict=True)]
    logs = pd.DataFrame(rows, columns=["borehole", "top_m", "bottom_m", "unit"])
    site = mapped_site.with_tables({"lithology": logs})
    made = geology.PLUGIN.compute(site, {"units": []}, no_progress)
    return site.with_tables({"hydro_unit": made["hydro_unit"]})


@pytest.fixture
def with_closed_fields(monkeypatch, closed_fields):
    """Let every room that maps use the closed-form fields."""
    import geoprofile.products.maps.map_band
    import geoprofile.products.maps.mapping
    import geoprofile.products.plume.plume_extent
    import geoprofile.products.section.section

    found = list(closed_fields.values())
    for room in (geoprofile.products.maps.mapping, geoprofile.products.section.section):
        monkeypatch.setattr(room, "latest_fields", lambda site: found)
    for room in (geoprofile.products.maps.map_band, geoprofile.products.plume.plume_extent):
        monkeypatch.setattr(room, "chosen_fields", lambda site, rounds: found)
