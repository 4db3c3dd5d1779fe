"""GeoTIFF grids of the fields: one band per elevation, written block by block in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.formats._common import library, safe_name
from geoprofile.formats._qml import raster_style
from geoprofile.grids import domain_of
from geoprofile.mapping import MappedField, chosen_elevations, latest_fields
from geoprofile.plugs import Format, Loss, Setting, Written
from geoprofile.surfaces import ground_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BLOCK = 256  # cells along the side of a tile
NODATA = -9999.0
AUTO_CELLS = 250_000  # over the extent, where no width is given
MOST_CELLS = 400_000_000
STYLE_LEVELS = 6
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
    library("rasterio", PLUG.needs)
    elevations = chosen_elevations(site, settings["elevations_m"])
    fields = latest_fields(site)
    domain = domain_of(site)
    frame = _frame(domain.bounds, float(settings["cell_m"]))
    ground = ground_of(site).at
    files: list[str] = []
    losses = []
    for field in fields if elevations else []:
        for statistic in ("median", "sd", *(("probability",) if field.criterion else ())):
            name = safe_name("_".join(filter(None, (field.quantity, field.round, statistic))))
            grid = Grid(field, statistic, tuple(elevations), site.crs, site.vertical_datum)
            low, high = grid.save(Path(folder) / f"{name}.tif", frame, domain, ground)
            files += [f"{name}.tif", f"{name}.qml"]
            style = raster_style(_levels(low, high, statistic), grid.unit)
            (Path(folder) / files[-1]).write_text(style, encoding="utf-8")
            losses.append(Loss(f"{name}.tif", "rounded", SINGLE))
    return Written(tuple(files), tuple(losses))


@dataclass(frozen=True, eq=False)
class Grid:
    """One statistic of a field, a band for each elevation [m]."""

    field: MappedField
    statistic: str
    elevations: tuple[float, ...]
    crs: str
    vertical_datum: str

    @property
    def unit(self) -> str:
        """Unit of the values."""
        return self.field.unit if self.statistic == "median" else ""

    def values(self, points: Array) -> Array:
        """The statistic at points (n, 3) [m], shape (n,)."""
        if self.statistic == "probability":
            return self.field.exceedance(points)
        at = self.field.at(points)
        return at.median if self.statistic == "median" else at.log10_sd

    def save(
        self, path: Path, frame: Frame, domain: Any, ground: Callable[[Array], Array]
    ) -> tuple[float, float]:
        """Write the file a block at a time; the lowest and highest value, (0, 1) for none."""
        rasterio = library("rasterio", "raster")
        low, high = np.inf, -np.inf
        shapely.prepare(domain)
        with rasterio.open(path, "w", **_profile(rasterio, frame, self)) as file:
            self._name_bands(file)
            for block in frame.blocks():
                for band, values in enumerate(self._block(frame, block, domain, ground), start=1):
                    known = values[values != np.float32(NODATA)]
                    if known.size:
                        low, high = min(low, float(known.min())), max(high, float(known.max()))
                    window = rasterio.windows.Window(block[1], block[0], block[3], block[2])
                    file.write(values.reshape(block[2], block[3]), band, window=window)
        return (low, high) if np.isfinite(low) else (0.0, 1.0)

    def _block(
        self,
        frame: Frame,
        block: tuple[int, int, int, int],
        domain: Any,
        ground: Callable[[Array], Array],
    ) -> Iterator[NDArray[np.float32]]:
        """The values of a block, elevation after elevation; NODATA outside and above ground."""
        xy = frame.centres(block)
        inside = shapely.contains_xy(domain, xy[:, 0], xy[:, 1])
        top = np.full(len(xy), -np.inf)
        if inside.any():
            top[inside] = ground(xy[inside])
        for z in self.elevations:
            values = np.full(len(xy), NODATA, dtype=np.float32)
            below = inside & (top >= z)
            if below.any():
                points = np.column_stack([xy[below], np.full(int(below.sum()), z)])
                values[below] = self.values(points)
            yield values

    def _name_bands(self, file: Any) -> None:
        datum = f" {self.vertical_datum}" if self.vertical_datum else ""
        for band, z in enumerate(self.elevations, start=1):
            file.set_band_description(band, f"elevation={z:+.2f} m{datum}")
            file.update_tags(band, elevation_m=repr(z))
        meaning = {
            "median": "median of the field",
            "sd": "standard deviation of log10 of the field",
            "probability": f"probability above {self.field.criterion} {self.field.unit}",
        }[self.statistic]
        file.update_tags(
            quantity=self.field.quantity,
            round=self.field.round or "",
            statistic=meaning,
            unit=self.unit or "1",
            vertical_datum=self.vertical_datum,
        )


def _profile(rasterio: Any, frame: Frame, grid: Grid) -> dict[str, Any]:
    return {
        "driver": "GTiff",
        "dtype": "float32",
        "count": len(grid.elevations),
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


def _levels(low: float, high: float, statistic: str) -> list[float]:
    """Levels of the style: by powers of ten for medians, even for the others."""
    if statistic == "probability":
        return [float(v) for v in np.linspace(0.0, 1.0, STYLE_LEVELS)]
    if statistic == "median" and 0 < low < high:
        return [float(v) for v in np.geomspace(low, high, STYLE_LEVELS)]
    return [float(v) for v in np.linspace(low, max(high, low + 1e-12), STYLE_LEVELS)]


PLUG = Format(
    "geotiff",
    "A GeoTIFF per field and statistic, one band per elevation, with a style",
    ".tif",
    write,
    needs="raster",
    settings=(
        Setting("cell_m", 0.0, "m", "Width of a cell; 0: from the extent", low=0),
        Setting("elevations_m", [], "m", "Elevations of the bands; none: round ones"),
    ),
)
