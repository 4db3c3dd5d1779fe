"""GeoTIFF grids of the fields: one band per elevation, written block by block in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.formats._common import library, safe_name
from geoprofile.formats._qml import raster_style
from geoprofile.plugins import Format, Loss, Setting, Written
from geoprofile.products.boreholes.surfaces import ground_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import MappedField, chosen_elevations, latest_fields

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
    library("rasterio", PLUGIN.needs)
    elevations = chosen_elevations(site, settings["elevations_m"])
    fields = latest_fields(site)
    domain = domain_of(site)
    frame = _frame(domain.bounds, float(settings["cell_m"]))
    ground = ground_of(site).at
    files: list[str] = []
    losses = []
    for field in fields if elevations else []:
        stem = safe_name("_".join(filter(None, (field.quantity, field.round))))
        grids = Grids(field, tuple(elevations), site.crs, site.vertical_datum)
        ends = grids.save(Path(folder), stem, frame, domain, ground)
        for statistic, (low, high) in ends.items():
            files += [f"{stem}_{statistic}.tif", f"{stem}_{statistic}.qml"]
            style = raster_style(_levels(low, high, statistic), grids.unit(statistic))
            (Path(folder) / files[-1]).write_text(style, encoding="utf-8")
            losses.append(Loss(files[-2], "rounded", SINGLE))
    return Written(tuple(files), tuple(losses))


@dataclass(frozen=True, eq=False)
class Grids:
    """The statistics of a field, each a file with a band for each elevation [m]."""

    field: MappedField
    elevations: tuple[float, ...]
    crs: str
    vertical_datum: str

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

    def save(
        self,
        folder: Path,
        stem: str,
        frame: Frame,
        domain: Any,
        ground: Callable[[Array], Array],
    ) -> dict[str, tuple[float, float]]:
        """Write the files a block at a time; the lowest and highest value of each."""
        rasterio = library("rasterio", "raster")
        shapely.prepare(domain)
        with ExitStack() as stack:
            targets = {s: self._target(rasterio, frame, s, folder / stem) for s in self.statistics}
            for target in targets.values():
                stack.enter_context(target.file)
            for block in frame.blocks():
                window = rasterio.windows.Window(block[1], block[0], block[3], block[2])
                for band, found in enumerate(self._block(frame, block, domain, ground), start=1):
                    for statistic, values in found.items():
                        targets[statistic].put(values.reshape(block[2], block[3]), band, window)
        return {statistic: target.ends for statistic, target in targets.items()}

    def _target(self, rasterio: Any, frame: Frame, statistic: str, stem: Path) -> Target:
        path = stem.with_name(f"{stem.name}_{statistic}.tif")
        file = rasterio.open(path, "w", **_profile(rasterio, frame, self))
        self._name_bands(file, statistic)
        return Target(file)

    def _block(
        self,
        frame: Frame,
        block: tuple[int, int, int, int],
        domain: Any,
        ground: Callable[[Array], Array],
    ) -> Iterator[dict[str, NDArray[np.float32]]]:
        """The values of a block, elevation after elevation; NODATA outside and above ground."""
        xy = frame.centres(block)
        inside = shapely.contains_xy(domain, xy[:, 0], xy[:, 1])
        top = np.full(len(xy), -np.inf)
        if inside.any():
            top[inside] = ground(xy[inside])
        for z in self.elevations:
            below = inside & (top >= z)
            found = {s: np.full(len(xy), NODATA, dtype=np.float32) for s in self.statistics}
            if below.any():
                points = np.column_stack([xy[below], np.full(int(below.sum()), z)])
                for statistic, values in self.values(points).items():
                    found[statistic][below] = values
            yield found

    def _name_bands(self, file: Any, statistic: str) -> None:
        datum = f" {self.vertical_datum}" if self.vertical_datum else ""
        for band, z in enumerate(self.elevations, start=1):
            file.set_band_description(band, f"elevation={z:+.2f} m{datum}")
            file.update_tags(band, elevation_m=repr(z))
        meaning = {
            "median": "median of the field",
            "sd": "standard deviation of log10 of the field",
            "probability": f"probability above {self.field.criterion} {self.field.unit}",
        }[statistic]
        file.update_tags(
            quantity=self.field.quantity,
            round=self.field.round or "",
            statistic=meaning,
            unit=self.unit(statistic) or "1",
            vertical_datum=self.vertical_datum,
        )


@dataclass(eq=False)
class Target:
    """An open file, and the lowest and highest value written to it."""

    file: Any
    low: float = np.inf
    high: float = -np.inf

    def put(self, values: NDArray[np.float32], band: int, window: Any) -> None:
        """Write a block of a band."""
        known = values[values != np.float32(NODATA)]
        if known.size:
            self.low = min(self.low, float(known.min()))
            self.high = max(self.high, float(known.max()))
        self.file.write(values, band, window=window)

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest value, (0, 1) for none."""
        return (self.low, self.high) if np.isfinite(self.low) else (0.0, 1.0)


def _profile(rasterio: Any, frame: Frame, grid: Grids) -> dict[str, Any]:
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


PLUGIN = Format(
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
