"""Reads areas, section lines and boreholes from vector files of the formats allowed.

The content decides the format before any library opens the file, so that a file that points at
other files under a harmless name is refused. Shapes are brought to the site CRS, flat.
"""

from __future__ import annotations

import json
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geoprofile.errors import DataError, Problem
from geoprofile.intake.files import VECTOR, unsaved
from geoprofile.intake.plain_paths import plain_path
from geoprofile.intake.sources import SiteSettings, SourceFile

STARTS = {
    "GeoJSON": (b"{",),
    "GPKG": (b"SQLite format 3\0",),
    "ESRI Shapefile": (b"\x00\x00\x27\x0a",),
    "FlatGeobuf": (b"fgb",),
}
MOST_BYTES = 200_000_000
MOST_SHAPES = 100_000


@dataclass(frozen=True, eq=False)
class Layer:
    """Attributes by column as text, shapes, and the CRS that the file states (None without one)."""

    header: tuple[str, ...]
    rows: list[tuple[str, ...]]
    shapes: list[Any]
    crs: Any


def read_vector(file: SourceFile, settings: SiteSettings, problems: list[Problem]) -> Any:
    """The rows of a vector file as a frame with `geometry` in the site CRS."""
    from geoprofile.intake.frames import empty

    try:
        return _frame(file, settings, problems)
    except DataError as error:
        problems += error.problems
        return empty(file.table, ())


def _frame(file: SourceFile, settings: SiteSettings, problems: list[Problem]) -> Any:
    from geoprofile.intake.frames import empty
    from geoprofile.intake.tables import read_sheet
    from geoprofile.intake.text import Piece, Sheet

    layer = _read(file)
    if not layer.rows:
        return empty(file.table, ())
    shapes = _in_site_crs(layer, file.name, settings.crs)
    header, rows = _with_places(layer, shapes, file.table)
    numbers = tuple(range(1, len(rows) + 1))
    piece = Piece(tuple(zip(*rows, strict=True)), numbers, typed=True)
    before = len(problems)
    frame = read_sheet(Sheet(header, iter((piece,))), file, settings, problems)
    if len(problems) > before or file.table == "borehole":
        return frame
    return frame.assign(geometry=object_array(shapes))


def object_array(shapes: list[Any]) -> Any:
    """An array of shapes; numpy alone would take some apart."""
    array = np.empty(len(shapes), dtype=object)
    array[:] = shapes
    return array


def _with_places(
    layer: Layer, shapes: list[Any], table: str
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Header and rows; boreholes get x and y (and ground elevation) from their points."""
    header, rows = layer.header, layer.rows
    if table != "borehole":
        return (*header, "wkt"), [(*r, "-") for r in rows]
    points = [_point(s) for s in shapes]
    for i, name in enumerate(("x", "y", "ground_elevation_m")):
        if name in header or (i == 2 and any(len(p) < 3 for p in points)):
            continue
        header = (*header, name)
        rows = [(*r, repr(float(p[i])) if p else "") for r, p in zip(rows, points, strict=True)]
    return header, rows


def _point(shape: Any) -> tuple[float, ...]:
    if shape is None or shape.is_empty or shape.geom_type != "Point":
        return ()
    return tuple(float(v) for v in shape.coords[0])


def _refuse_unsaved(file: SourceFile) -> None:
    """DataError where rows of a GeoPackage lie beside it, whether its own or another file's.

    What is loaded is known by the bytes of the file alone: rows beside it would be read and then
    change unseen, and those that a stopped program left of another file would be mixed in.
    """
    for beside in unsaved(file.path):
        raise DataError(
            file.name,
            f"{beside.name} beside it: edits that are not in the file yet, or what a stopped "
            "program left",
            "a file that nobody edits",
            "Save the layer and close it in the GIS; if no program has it open, move "
            f"{beside.name} aside and look whether the layer is as it should be.",
        )


def _read(file: SourceFile) -> Layer:
    driver = VECTOR[file.path.suffix.casefold()]
    _refuse_unsaved(file)
    if file.size > MOST_BYTES:
        raise DataError(
            file.name,
            f"{file.size / 1e6:.0f} MB",
            f"at most {MOST_BYTES / 1e6:.0f} MB of areas or lines",
            "Keep only the shapes of this site.",
        )
    with file.path.open("rb") as handle:
        start = handle.read(64)
    if not start:
        raise DataError(file.name, "an empty file", f"a {driver} file", "Save it again.")
    plain = start.removeprefix(b"\xef\xbb\xbf").lstrip() if driver == "GeoJSON" else start
    if not plain.startswith(STARTS[driver]):
        raise DataError(
            file.name,
            "a file of another kind than its name says",
            f"a {driver} file",
            f"Export the shapes as {driver} under this name.",
        )
    try:
        with plain_path(file.path) as path, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # remarks on attributes that no column is read from
            layer = _opened(path, driver, file.table)
        return _checked_crs(layer, file, driver)
    except DataError:
        raise
    except Exception as error:  # the libraries below fail in many ways on a damaged file
        raise DataError(
            file.name,
            f"a file that cannot be read ({type(error).__name__})",
            f"a {driver} file",
            "Export the shapes again.",
        ) from error


def _opened(path: Path, driver: str, table: str) -> Layer:
    """Through fiona with one driver allowed; through pyogrio where fiona is not installed.

    pyogrio reads the file first in any case and refuses a damaged one: where such a file makes the
    library below speak in bytes that are no text, fiona ends the whole process.
    """
    otherwise = _opened_otherwise(path, driver, table)
    try:
        import fiona
    except ImportError:
        return otherwise
    import shapely.geometry

    name = _layer_name(fiona.listlayers(str(path)), table)
    with fiona.open(str(path), enabled_drivers=[driver], layer=name) as source:
        if len(source) > MOST_SHAPES:
            raise _too_many(path)
        header = tuple(source.schema["properties"])
        records = list(source)
        crs = source.crs_wkt or None
    rows = [tuple(_text(r["properties"][h]) for h in header) for r in records]
    shapes = [
        None if r["geometry"] is None else shapely.geometry.shape(r["geometry"]) for r in records
    ]
    return Layer(header, rows, shapes, crs)


def _opened_otherwise(path: Path, driver: str, table: str) -> Layer:
    import pyogrio
    import shapely

    name = _layer_name([str(n) for n, _ in pyogrio.list_layers(path)], table)
    found = pyogrio.read_info(path, layer=name)["driver"]
    if found != driver:
        raise DataError(
            path.name,
            f"a {found} file",
            f"a {driver} file",
            f"Export the shapes as {driver} under this name.",
        )
    meta, _, blobs, columns = pyogrio.raw.read(path, layer=name, max_features=MOST_SHAPES + 1)
    if len(blobs) > MOST_SHAPES:
        raise _too_many(path)
    rows = [tuple(map(_text, r)) for r in zip(*columns, strict=True)] or [()] * len(blobs)
    return Layer(tuple(meta["fields"]), rows, list(shapely.from_wkb(blobs)), meta["crs"])


def _too_many(path: Path) -> DataError:
    return DataError(
        path.name,
        "too many shapes",
        f"at most {MOST_SHAPES}",
        "Keep only the shapes of this site.",
    )


def _layer_name(names: list[str], table: str) -> str:
    from geoprofile.intake.names import table_of

    fitting = [n for n in names if table_of(n) == table]
    if len(names) == 1:
        return names[0]
    if len(fitting) == 1:
        return fitting[0]
    raise DataError(
        f"vector file for {table}",
        f"the layers {', '.join(names) or 'none'}",
        f"one layer, or one named {table}",
        "Export the one layer that is meant into a file of its own.",
    )


def _text(value: Any) -> str:
    from geoprofile.intake.workbook import _text as plain

    return "" if value is None or value != value else plain(value)  # NaN differs from itself


def _checked_crs(layer: Layer, file: SourceFile, driver: str) -> Layer:
    if not layer.crs:
        raise DataError(
            file.name,
            "no CRS",
            "a file that states the CRS of its shapes",
            "Set the CRS where the file was made (a shapefile needs its .prj); export again.",
        )
    if driver == "GeoJSON" and not _states_crs(file.path):
        bounds = _bounds(layer.shapes)
        if bounds is not None and (np.abs(bounds[[0, 2]]) > 180).any():
            raise DataError(
                file.name,
                f"coordinates such as {bounds[0]:.10g}, {bounds[1]:.10g} and no member 'crs'",
                "degrees (RFC 7946), or a member 'crs' that names the projected CRS",
                "Export with the CRS stated, or as GeoPackage.",
            )
    return layer


def _states_crs(path: Path) -> bool:
    with path.open(encoding="utf-8-sig") as handle:
        return "crs" in json.load(handle)


def _bounds(shapes: list[Any]) -> Any:
    import shapely

    bounds = shapely.total_bounds([s for s in shapes if s is not None])
    return None if np.isnan(bounds).any() else bounds


def _in_site_crs(layer: Layer, name: str, crs: str) -> list[Any]:
    import shapely
    from pyproj import CRS, Transformer

    source, target = CRS.from_user_input(layer.crs), CRS.from_user_input(crs)
    flat, target = source.to_2d(), target.to_2d()
    if flat.equals(target, ignore_axis_order=True) or _same_code(flat, target):
        return layer.shapes
    try:
        move = Transformer.from_crs(flat, target, always_xy=True, allow_ballpark=False)
        moved = [None if s is None else shapely.transform(s, _mover(move)) for s in layer.shapes]
    except Exception as error:  # no operation known, or one fails at a point
        raise DataError(
            name,
            f"shapes in '{flat.name}' that cannot be brought to {crs}",
            "shapes in the site CRS, or in one from which a transformation is known",
            f"Export the shapes in {crs}.",
        ) from error
    return moved


def _same_code(first: Any, second: Any) -> bool:
    code = first.to_epsg(min_confidence=70)
    return code is not None and code == second.to_epsg(min_confidence=70)


def _mover(move: Any) -> Any:
    def moved(points: Any) -> Any:
        return np.column_stack(move.transform(points[:, 0], points[:, 1], errcheck=True))

    return moved
