"""A raster shows what the map shows, cell by cell, and says what its numbers are."""

import re
from dataclasses import dataclass

import numpy as np
import pytest
import shapely

import geoprofile.formats.geotiff as geotiff
from geoprofile.engine import settings_used
from geoprofile.products.maps import map_band
from geoprofile.products.maps.shown import scale_of

rasterio = pytest.importorskip("rasterio")
EAST, NORTH = 500_000.0, 4_000_000.0
ELEVATIONS = [5.0, -3.0]
NODATA = -9999.0


@dataclass(frozen=True)
class At:
    """Values at points."""

    median: np.ndarray
    log10_sd: np.ndarray

    @property
    def low(self):
        """Not asked for here."""
        return self.median / 10

    high = low


@dataclass(frozen=True)
class Slope:
    """Grows eastwards; beyond 105 m it is uncertain by more than the maps allow."""

    quantity: str = "toluene"
    round: str | None = None
    unit: str = "ug/L"
    criterion: float | None = 2.0

    def assumed(self, points):
        """Nowhere: the data hold the shape."""
        return np.zeros(len(points))

    def at(self, points):
        """Closed form, straight in log10, so that contours are exact."""
        east = points[:, 0] - EAST
        return At(10.0 ** (east / 100.0), 0.2 + 0.8 * np.clip((east - 5.0) / 100.0, 0, None))

    def exceedance(self, points):
        """Falls from west to east."""
        return np.clip(1.0 - (points[:, 0] - EAST) / 150.0, 0.0, 1.0)


@pytest.fixture
def site(awkward_site, monkeypatch):
    """The map layer and the rasters of one field."""
    for module, name in ((map_band, "chosen_fields"), (geotiff, "latest_fields")):
        monkeypatch.setattr(module, name, lambda *_: [Slope()])
    return awkward_site


@pytest.fixture
def layers(site):
    """Bands and blanks of the map."""
    settings = {**settings_used(site, "map_band"), "elevations_m": ELEVATIONS}
    return map_band.compute(site, settings, lambda *_: None)


@pytest.fixture
def folder(site, tmp_path):
    """The rasters, of half a metre, so that there are overviews."""
    geotiff.write(site, str(tmp_path), {"cell_m": 0.25, "elevations_m": ELEVATIONS})
    return tmp_path


def cells_of(file):
    """Easting and northing of the middle of every cell."""
    rows, columns = np.mgrid[0 : file.height, 0 : file.width]
    x, y = rasterio.transform.xy(file.transform, rows.ravel(), columns.ravel())
    return np.asarray(x), np.asarray(y)


@pytest.mark.parametrize("statistic", ["median", "probability"])
def test_every_cell_agrees_with_the_map(site, layers, folder, statistic):
    """Blank is nodata, nodata is blank, and each value lies in the class of its band."""
    bands, blanks = layers["map_band"], layers["map_blank"]
    assert set(blanks["reason"]) >= {"uncertain"}
    levels = scale_of(site, "toluene", statistic).levels
    with rasterio.open(folder / f"toluene_{statistic}.tif") as file:
        x, y = cells_of(file)
        for number, z in enumerate(ELEVATIONS, start=1):
            values = file.read(number).ravel()
            here = bands[(bands["elevation_m"] == z) & (bands["statistic"] == statistic)]
            blank = shapely.union_all(blanks[blanks["elevation_m"] == z].geometry.to_numpy())
            inside = shapely.contains_xy(blank.buffer(-1e-6), x, y)
            assert inside.sum() > 1000
            assert (values[inside] == NODATA).all()
            held = 0
            for band in here.itertuples():
                mine = shapely.contains_xy(band.geometry.buffer(-0.01), x, y)
                found = np.searchsorted(levels, values[mine].astype(float), side="right")
                assert (values[mine] != NODATA).all()
                if statistic == "probability":  # certainty itself is in the last class
                    found = np.minimum(found, len(levels) - 1)
                assert (found == band.class_number).all()
                held += int(mine.sum())
            assert held > 0.95 * (values != NODATA).sum()


def test_the_file_is_laid_out_for_reading_over_a_network(folder):
    """Tiles, overviews that hold only values of the raster, and the mark of the layout."""
    for path in sorted(folder.glob("*.tif")):
        with rasterio.open(path) as file:
            assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
            assert file.overviews(1)
            assert file.block_shapes == [(256, 256)] * file.count
            full = set(np.unique(file.read(1)))
        with rasterio.open(path, overview_level=0) as small:
            assert set(np.unique(small.read(1))) <= full
    assert not list(folder.glob("*draft*"))


def test_each_band_says_its_unit_and_meaning(folder):
    """Where a reader looks: unit of the band, its description, its metadata."""
    units = {"median": "ug/L", "sd": "1", "probability": "1"}
    for statistic, unit in units.items():
        with rasterio.open(folder / f"toluene_{statistic}.tif") as file:
            assert file.units == (unit,) * len(ELEVATIONS)
            for band, z in enumerate(ELEVATIONS, start=1):
                tags = file.tags(band)
                assert float(tags["elevation_m"]) == z
                assert (tags["unit"], tags["quantity"]) == (unit, "toluene")
                assert statistic[:4] in tags["statistic"] or statistic == "sd"
            assert "blank" in file.tags()["nodata"]


def test_the_style_is_in_classes_that_rise_to_dark(folder):
    """One colour per class, the ends rising, the darkest last."""
    text = (folder / "toluene_median.qml").read_text("utf-8")
    assert 'colorRampType="DISCRETE"' in text
    ends = [float(v) for v in re.findall(r'<item value="([^"]+)"', text)]
    assert ends == sorted(ends)
    light = [
        sum(int(c[i : i + 2], 16) for i in (0, 2, 4))
        for c in re.findall(r'color="#([0-9a-f]{6})"', text)
    ]
    assert light == sorted(light, reverse=True)
    assert "µg/L" in text
    assert "ug/L" not in text
