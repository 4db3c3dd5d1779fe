"""GeoTIFF grids of a field in closed form."""

import tracemalloc
from dataclasses import dataclass

import numpy as np
import pytest

import geoprofile.formats.geotiff as geotiff
from geoprofile.errors import UsageError

rasterio = pytest.importorskip("rasterio")
EAST, NORTH = 500_000.0, 4_000_000.0
SETTINGS = {"cell_m": 2.0, "elevations_m": [5.0, -3.0]}


@dataclass(frozen=True)
class PlaneAt:
    """Values of the plane."""

    median: np.ndarray
    log10_sd: np.ndarray


@dataclass(frozen=True)
class Plane:
    """A field that grows by a power of ten in 100 m eastwards and in 10 m upwards."""

    quantity: str = "1,1-thing"
    round: str | None = "spring/a"
    unit: str = "ug/L"
    criterion: float | None = 3.0

    def at(self, points):
        """Closed form."""
        log = (points[:, 0] - EAST) / 100.0 + points[:, 2] / 10.0
        return PlaneAt(10.0**log, np.full(len(points), 0.2))

    def exceedance(self, points):
        """A step."""
        return (self.at(points).median > self.criterion).astype(float)


@pytest.fixture
def one_field(monkeypatch):
    """The plane in place of a fitted field."""
    monkeypatch.setattr(geotiff, "latest_fields", lambda site: [Plane()])


def test_values_lie_at_the_middle_of_cells(one_field, awkward_site, tmp_path):
    """Band by elevation, values from the closed form to single precision, nodata outside."""
    written = geotiff.write(awkward_site, str(tmp_path), SETTINGS)
    with rasterio.open(tmp_path / "1_1-thing_spring_a_median.tif") as file:
        assert file.count == 2
        assert file.descriptions == ("elevation=+5.00 m yard datum", "elevation=-3.00 m yard datum")
        assert (file.nodata, file.crs.to_epsg()) == (-9999.0, 32628)
        assert file.profile["compress"] == "deflate"
        assert file.tags(ns="IMAGE_STRUCTURE")["PREDICTOR"] == "3"
        band = file.read(2)
        t = file.transform
        x, y = t.c + 40.5 * t.a, t.f + 10.5 * t.e
        assert (x, y) == (EAST - 10 + 81.0, NORTH + 50 - 21.0)
        expected = 10 ** ((x - EAST) / 100.0 - 0.3)
        assert band[10, 40] == pytest.approx(expected, rel=1e-6)  # 32 bit
    assert len(written.files) == 6
    assert (tmp_path / "1_1-thing_spring_a_median.qml").read_text("utf-8").startswith("<!DOCTYPE")


def test_nothing_is_mapped_above_ground(one_field, awkward_site, tmp_path):
    """Ground lies below 13 m everywhere: a band at 20 m is empty."""
    settings = SETTINGS | {"elevations_m": [20.0]}
    geotiff.write(awkward_site, str(tmp_path), settings)
    with rasterio.open(tmp_path / "1_1-thing_spring_a_sd.tif") as file:
        assert (file.read(1) == -9999.0).all()


def test_too_many_cells_are_refused(one_field, awkward_site, tmp_path):
    """A width that makes a file of no use is answered with the number of cells."""
    with pytest.raises(UsageError, match="cells"):
        geotiff.write(awkward_site, str(tmp_path), SETTINGS | {"cell_m": 0.001})


@pytest.mark.bench
def test_memory_is_bounded_at_100_million_cells(one_field, awkward_site, tmp_path, monkeypatch):
    """100 million cells take less than 200 MB of Python's memory."""
    monkeypatch.setattr(geotiff, "latest_fields", lambda site: [Plane(criterion=None)])
    tracemalloc.start()
    geotiff.write(awkward_site, str(tmp_path), {"cell_m": 0.0112, "elevations_m": [0.0]})
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    with rasterio.open(next(tmp_path.glob("*median.tif"))) as file:
        assert file.width * file.height >= 100_000_000
    assert peak < 200e6
