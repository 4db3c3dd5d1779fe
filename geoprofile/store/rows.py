"""Frames to rows: every value checked and turned into what SQLite stores."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataError
from geoprofile.schema import Column, Table
from geoprofile.store.blobs import encode
from geoprofile.store.layout import GEOMETRY, geometry_type, has_z

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

USER_COLUMN = re.compile(r"^[a-z][a-z0-9_]{0,40}$")
WHOLE_SECONDS, ZERO_MILLISECONDS = "2000-01-01T00:00:00Z", ".000Z"
RESERVED = ("fid", "geom", "geometry", "ogc_fid")
USER_TYPES = {"f": "REAL", "i": "INTEGER", "u": "INTEGER", "b": "BOOLEAN"}


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows ready to be stored: column names, one tuple per row, and the boxes of the geometries.

    `boxes` is an array (n, 4) of min x, max x, min y, max y, NaN where there is no geometry; None
    for a table without geometry. `added` maps columns that the schema lacks to their SQL type.
    """

    columns: tuple[str, ...]
    values: list[tuple[Any, ...]]
    boxes: NDArray[np.float64] | None
    added: dict[str, str]

    @property
    def extent(self) -> tuple[float, ...] | None:
        """(min x, min y, max x, max y) of all geometries; None without any."""
        import numpy as np

        if self.boxes is None or np.isnan(self.boxes).all():
            return None
        low, high = np.nanmin(self.boxes, axis=0), np.nanmax(self.boxes, axis=0)
        return float(low[0]), float(low[2]), float(high[1]), float(high[3])


def rows_from(table: Table, frame: pd.DataFrame, srs_id: int, *, extra: bool) -> Rows:
    """Turn a frame into rows; DataError for a column, type or geometry that does not fit.

    `extra` allows columns that the schema lacks (the user's own, in input tables).
    """
    added = _added(table, frame, extra)
    own = [c for c in table.columns if c.name in frame.columns]
    lists = {c.name: _values(table, c, frame[c.name]) for c in own}
    lists |= {name: _plain(frame[name]) for name in added}
    boxes = None
    geometry = _geometries(table, frame)
    if geometry is not None:
        import shapely

        boxes = shapely.bounds(geometry)[:, [0, 2, 1, 3]]
        lists[GEOMETRY] = encode(geometry, srs_id)
    return Rows(tuple(lists), list(zip(*lists.values(), strict=True)), boxes, added)


def _added(table: Table, frame: pd.DataFrame, extra: bool) -> dict[str, str]:
    names = {c.name for c in table.columns} | {"geometry"}
    unknown = [str(c) for c in frame.columns if c not in names]
    for name in unknown:
        if not extra or not USER_COLUMN.match(name) or name in RESERVED:
            raise DataError(
                f"table {table.name}",
                f"a column '{name}'",
                "the columns of the schema" + (" or names of a-z, 0-9 and _" if extra else ""),
                "Rename or remove the column.",
            )
    return {name: USER_TYPES.get(frame[name].dtype.kind, "TEXT") for name in unknown}


def _values(table: Table, column: Column, series: pd.Series[Any]) -> list[Any]:
    try:
        values = _converted(column, series)
    except (TypeError, ValueError) as error:
        raise _unfit(table, column.name, str(error), f"{column.kind} values") from error
    if column.required and not (table.owner == "derived" and column.name == "run"):
        for row, value in enumerate(values):
            if value is None:
                raise _unfit(table, column.name, f"nothing in row {row + 1}", "a value")
    return values


def _converted(column: Column, series: pd.Series[Any]) -> list[Any]:
    if column.kind == "real":
        return _reals(series)
    if column.kind == "integer":
        return _plain(series.astype("Int64"))
    if column.kind == "boolean":
        return [None if v is None else int(v) for v in _plain(series.astype("boolean"))]
    values = _plain(series)
    for value in values:
        if value is not None and not isinstance(value, str):
            raise TypeError(f"{value!r} is no text")
    return [stored_moment(v) for v in values] if column.kind == "datetime" else values


def stored_moment(text: str | None) -> str | None:
    """A time as GeoPackage wants it: `2031-05-04T09:30:00Z` with milliseconds."""
    if text is not None and len(text) == len(WHOLE_SECONDS) and text[-1] == "Z":
        return text[:-1] + ZERO_MILLISECONDS
    return text


def _reals(series: pd.Series[Any]) -> list[float | None]:
    import numpy as np
    import pandas as pd

    numbers = pd.to_numeric(series).astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    if np.isinf(numbers).any():
        raise ValueError("an infinite number")
    missing = np.isnan(numbers)
    if not missing.any():
        return list(numbers.tolist())
    return [None if gone else v for v, gone in zip(numbers.tolist(), missing, strict=True)]


def _plain(series: pd.Series[Any]) -> list[Any]:
    present = series.notna().tolist()
    return [v if ok else None for v, ok in zip(series.tolist(), present, strict=True)]


def _geometries(table: Table, frame: pd.DataFrame) -> NDArray[np.object_] | None:
    if table.geometry is None:
        return None
    import numpy as np

    if "geometry" in frame.columns:
        return _fitting(table, np.asarray(frame["geometry"], dtype=object))
    if table.name == "borehole" and {"x", "y", "ground_elevation_m"} <= set(frame.columns):
        import shapely

        places = frame[["x", "y", "ground_elevation_m"]].to_numpy(dtype=float)
        return np.asarray(shapely.points(places), dtype=object)
    return None


def _fitting(table: Table, shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """The geometries in the type of the table: flat or with Z, parts promoted or taken out."""
    import numpy as np
    import shapely

    kind = geometry_type(table)
    shapes = np.array([_of_kind(table, shape, kind) for shape in shapes] + [None], dtype=object)[
        :-1
    ]
    full = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    if has_z(table) and not np.all(shapely.has_z(full)):
        raise _unfit(table, "geometry", "a shape without elevation", "a shape with elevations")
    if not has_z(table):
        shapes = np.asarray(shapely.force_2d(shapes), dtype=object)
    coordinates = shapely.get_coordinates(full, include_z=has_z(table))
    if not np.isfinite(coordinates).all():
        raise _unfit(table, "geometry", "NaN or infinity in a coordinate", "finite coordinates")
    return shapes


def _of_kind(table: Table, shape: Any, kind: str) -> Any:
    if shape is None or isinstance(shape, float):  # NaN marks a missing shape in a plain frame
        return None
    found = shape.geom_type.upper()
    if found == kind:
        return shape
    if f"MULTI{found}" == kind:
        import shapely

        return (
            shapely.multipolygons([shape])
            if kind == "MULTIPOLYGON"
            else (shapely.multilinestrings([shape]))
        )
    if found == f"MULTI{kind}" and len(shape.geoms) == 1:
        return shape.geoms[0]
    raise _unfit(table, "geometry", f"a {shape.geom_type}", f"a {kind.capitalize()}")


def _unfit(table: Table, column: str, found: str, expected: str) -> DataError:
    return DataError(
        f"table {table.name}, column {column}",
        found,
        expected,
        "Correct the data or the layer that makes them; nothing was stored.",
    )


def to_json(value: object) -> str:
    """JSON with sorted keys, the same text for the same value."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, default=str)


def key_tuples(keys: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Keys as tuples; a bare text counts as a key of one column."""
    return [k if isinstance(k, tuple) else (k,) for k in keys]
