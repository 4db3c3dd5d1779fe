"""GeoTIFF grids of the fields, laid out for reading over a network: one band per elevation.

Soil gas has a band per depth below ground.

They obey the maps: what a map leaves blank is nodata, and the style has the classes of the map.
Written block by block in bounded memory, then copied into the layout with overviews.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.formats._common import library, safe_name
from geoprofile.formats._qml import raster_style
from geoprofile.plugins import Format, Loss, Setting, Written
from geoprofile.plugins.registry import offered_by_all
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import RasterField, chosen_elevations, latest_fields
from geoprofile.products.maps.shown import scale_of, shown_at

if TYPE_CHECKING:
    from geoprofile.drawing.levels import Bandwidth
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BLOCK = 256  # cells along the side of a tile
NODATA = -9999.0
AUTO_CELLS = 250_000  # over the extent, where no width is given
MOST_CELLS = 400_000_000
SINGLE = "values to 7 significant digits (32 bit)"


@dataclass(frozen=True, eq=False)
class Frame:
    """Where the cells lie: west and north edge [m], width of a cell [m], columns and rows."""

    west: float
    north: float
    cell_m: float
    columns: int
    rows: int

    def blocks(self) -> Iterator[tuple[int, int, int, int]]:
        """First row, first column, rows and columns of every block."""
        for row in range(0, self.rows, BLOCK):
            for column in range(0, self.columns, BLOCK):
                yield row, column, min(BLOCK, self.rows - row), min(BLOCK, self.columns - column)

    def centres(self, block: tuple[int, int, int, int]) -> Array:
        """x, y of the middle of every cell of a block, shape (n, 2) [m]."""
        row, column, rows, columns = block
        x = self.west + self.cell_m * (column + 0.5 + np.arange(columns))
        y = self.north - self.cell_m * (row + 0.5 + np.arange(rows))
        xx, yy = np.meshgrid(x, y)
        return np.column_stack([xx.ravel(), yy.ravel()])


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A multi-band GeoTIFF per field and statistic, with a style beside it.

    Parameters
    ----------
    site : Site
        What may leave; its fields are evaluated.
    folder : str
        Empty folder.
    settings : Mapping
        `cell_m` [m], `elevations_m` [m].

    Returns
    -------
    Written
        Rounding to single precision is a loss.
    """
    library("rasterio", PLUGIN.needs)
    elevations = chosen_elevations(site, settings["elevations_m"])
    fields = latest_fields(site)
    domain = domain_of(site)
    frame = _frame(domain.bounds, float(settings["cell_m"]))
    files: list[str] = []
    for field in fields if elevations else []:
        shown = shown_at(site, field, elevations)
        grids = Grids(field, tuple(elevations), shown, site.crs, site.vertical_datum)
        files += _saved(grids, Path(folder), frame, partial(scale_of, site, field.quantity))
    for gas in (one for found in offered_by_all("gas rasters") for one in found(site)):
        grids = GasGrids(gas, gas.depths_m, gas.shown, site.crs, site.vertical_datum)
        files += _saved(grids, Path(folder), frame, gas.scale)
    rasters = [name for name in files if name.endswith(".tif")]
    return Written(tuple(files), tuple(Loss(name, "rounded", SINGLE) for name in rasters))


def _saved(
    grids: Grids, folder: Path, frame: Frame, scale: Callable[[str], Bandwidth]
) -> Iterator[str]:
    """Rasters and styles of a field; their names."""
    field = grids.field
    stem = safe_name("_".join(filter(None, (field.quantity, field.round))))
    grids.save(folder, stem, frame)
    for statistic in grids.statistics:
        style = raster_style(scale(statistic), field.quantity)
        (folder / f"{stem}_{statistic}.qml").write_text(style, encoding="utf-8")
        yield from (f"{stem}_{statistic}.tif", f"{stem}_{statistic}.qml")


@dataclass(frozen=True, eq=False)
class Grids:
    """The statistics of a field, each a file with a band for each elevation [m].

    `shown` is what the map shows at each elevation [m]; all else is nodata.
    """

    field: RasterField
    elevations: tuple[float, ...]
    shown: tuple[Any, ...]
    crs: str
    vertical_datum: str

    def points(self, xy: Array, band: int) -> Array:
        """Points (n, 3) of a band, counted from 0, over xy (n, 2) [m]."""
        return np.column_stack([xy, np.full(len(xy), self.elevations[band])])

    def place(self, band: int) -> tuple[str, dict[str, str]]:
        """Where a band lies, counted from 0: in words, and as a tag with its unit."""
        datum = f" {self.vertical_datum}" if self.vertical_datum else ""
        z = self.elevations[band]
        return f"elevation={z:+.2f} m{datum}", {"elevation_m": repr(z)}

    @property
    def statistics(self) -> tuple[str, ...]:
        """The probability only where the user gave a criterion."""
        known = self.field.criterion is not None
        return ("median", "sd", "probability") if known else ("median", "sd")

    def unit(self, statistic: str) -> str:
        """Unit of the values, "" for pure numbers."""
        return self.field.unit if statistic == "median" else ""

    def values(self, points: Array) -> dict[str, Array]:
        """Every statistic at points (n, 3) [m], each of shape (n,)."""
        at = self.field.at(points)
        found = {"median": at.median, "sd": at.log10_sd}
        if "probability" in self.statistics:
            found["probability"] = self.field.exceedance(points)
        return found

    def save(self, folder: Path, stem: str, frame: Frame) -> None:
        """Write the files a block at a time, then lay each out with its overviews."""
        rasterio = library("rasterio", "raster")
        for shape in self.shown:
            shapely.prepare(shape)
        drafts = {s: folder / f"{stem}_{s}.draft.tif" for s in self.statistics}
        with ExitStack() as stack:
            files = {
                s: stack.enter_context(rasterio.open(path, "w", **_profile(rasterio, frame, self)))
                for s, path in drafts.items()
            }
            for statistic, file in files.items():
                self._name_bands(file, statistic)
            for block in frame.blocks():
                window = rasterio.windows.Window(block[1], block[0], block[3], block[2])
                for band, found in enumerate(self._block(frame, block), start=1):
                    for statistic, values in found.items():
                        cells = values.reshape(block[2], block[3])
                        files[statistic].write(cells, band, window=window)
        for statistic, draft in drafts.items():
            _laid_out(rasterio, draft, folder / f"{stem}_{statistic}.tif")

    def _block(
        self, frame: Frame, block: tuple[int, int, int, int]
    ) -> Iterator[dict[str, NDArray[np.float32]]]:
        """The values of a block, elevation after elevation; NODATA where the map shows nothing."""
        xy = frame.centres(block)
        for band, shape in enumerate(self.shown):
            inside = shapely.contains_xy(shape, xy[:, 0], xy[:, 1])
            found = {s: np.full(len(xy), NODATA, dtype=np.float32) for s in self.statistics}
            if inside.any():
                points = self.points(xy[inside], band)
                for statistic, values in self.values(points).items():
                    found[statistic][inside] = values
            yield found

    def _name_bands(self, file: Any, statistic: str) -> None:
        """Elevation, unit and meaning, in each band and for the file."""
        unit = self.unit(statistic) or "1"
        meaning = {
            "median": "median of the field",
            "sd": "standard deviation of log10 of the field",
            "probability": f"probability above {self.field.criterion} {self.field.unit}",
        }[statistic]
        about = {"quantity": self.field.quantity, "round": self.field.round or ""}
        for band in range(1, len(self.shown) + 1):
            words, tag = self.place(band - 1)
            file.set_band_description(band, words)
            file.set_band_unit(band, unit)
            file.update_tags(band, statistic=meaning, unit=unit, **tag, **about)
        blank = "nothing known well enough: blank in the map too"
        file.update_tags(
            statistic=meaning, unit=unit, vertical_datum=self.vertical_datum, nodata=blank, **about
        )


@dataclass(frozen=True, eq=False)
class GasGrids(Grids):
    """The same of soil gas, at depths below ground [m] in place of elevations."""

    field: Any

    def points(self, xy: Array, band: int) -> Array:
        """Below the ground of every cell."""
        return np.asarray(self.field.points(xy, self.elevations[band]))

    def place(self, band: int) -> tuple[str, dict[str, str]]:
        """Depth below ground."""
        depth = self.elevations[band]
        return f"depth below ground={depth:.2f} m", {"depth_below_ground_m": repr(depth)}


def _laid_out(rasterio: Any, draft: Path, path: Path) -> None:
    """Copy a draft with overviews into the layout for reading over a network; take it away."""
    copy = library("rasterio.shutil", "raster").copy
    with rasterio.Env(GDAL_NUM_THREADS=1):
        copy(
            draft,
            path,
            driver="COG",
            compress="DEFLATE",
            predictor="YES",
            blocksize=BLOCK,
            overview_resampling="NEAREST",  # a mean over cells would be a value nobody computed
            bigtiff="IF_SAFER",
        )
    draft.unlink()


def _profile(rasterio: Any, frame: Frame, grid: Grids) -> dict[str, Any]:
    return {
        "driver": "GTiff",
        "dtype": "float32",
        "count": len(grid.shown),
        "width": frame.columns,
        "height": frame.rows,
        "crs": grid.crs,
        "transform": rasterio.Affine(frame.cell_m, 0, frame.west, 0, -frame.cell_m, frame.north),
        "nodata": NODATA,
        "compress": "deflate",
        "predictor": 3,
        "tiled": True,
        "blockxsize": BLOCK,
        "blockysize": BLOCK,
        "interleave": "band",
        "bigtiff": "if_safer",
    }


def _frame(bounds: Sequence[float], cell_m: float) -> Frame:
    west, south, east, north = bounds
    cell = cell_m or float(f"{np.sqrt((east - west) * (north - south) / AUTO_CELLS):.1g}")
    columns, rows = (int(np.ceil(v / cell)) for v in (east - west, north - south))
    if columns * rows > MOST_CELLS:
        raise UsageError(
            "geotiff.cell_m",
            f"{cell:g} m, which makes {columns * rows:,} cells",
            f"{MOST_CELLS:,} cells or fewer",
            "Choose wider cells.",
        )
    return Frame(west, north, cell, max(columns, 1), max(rows, 1))


PLUGIN = Format(
    "geotiff",
    "A GeoTIFF per field and statistic, blank where the map is, one band per elevation",
    ".tif",
    write,
    needs="raster",
    settings=(
        Setting("cell_m", 0.0, "m", "Width of a cell; 0: from the extent", low=0),
        Setting("elevations_m", [], "m", "Elevations of the bands; none: round ones"),
    ),
)
