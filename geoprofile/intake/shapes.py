"""Shapes of areas and section lines: of the kind that the table needs, simple, and flat."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoprofile.errors import Problem
from geoprofile.intake.problems import place, shown
from geoprofile.intake.vectors import object_array


def check_shapes(frame: Any, table: str, problems: list[Problem], metres: float = 1.0) -> Any:
    """The frame with shapes of the kind the table needs, flat; others are told.

    Shapes come from `geometry` (a vector file) or from `wkt` (a text file, in the site CRS or its
    twin in feet; `metres` is the length of one unit [m]).
    """
    wanted = {"area": "Polygon", "section_line": "LineString"}[table]
    shapes = []
    for i in range(len(frame)):
        row = frame.iloc[i]
        shape = row.get("geometry")
        where = place(str(row["source_file"]), int(row["source_row"]))
        if shape is None:
            shape = _scaled(_from_wkt(row["wkt"]), metres)
        found, fault = _fitting(shape, wanted)
        if fault is not None:
            problems.append(Problem(f"{where} ({row['name']})", *fault))
        shapes.append(found)
    return frame.drop(columns=["wkt"]).assign(geometry=object_array(shapes))


def _scaled(shape: Any, metres: float) -> Any:
    import shapely

    if metres == 1.0 or shape is None or isinstance(shape, str):
        return shape
    return shapely.transform(shape, lambda points: points * metres)


def _from_wkt(text: Any) -> Any:
    import shapely

    if not isinstance(text, str) or text == "-":
        return None
    try:
        with np.errstate(over="ignore"):  # too large a number becomes an infinite one: told below
            return shapely.from_wkt(text)
    except shapely.errors.GEOSException:
        return text


def _fitting(shape: Any, wanted: str) -> tuple[Any, tuple[str, str, str] | None]:
    import shapely

    if isinstance(shape, str):
        return None, (f"{shown(shape)}", f"a {wanted} as well-known text", "Correct the shape.")
    if shape is None or shape.is_empty:
        return None, ("no shape", f"a {wanted}", "Draw the shape, or remove the row.")
    if shape.geom_type == "Multi" + wanted and len(shape.geoms) == 1:
        shape = shape.geoms[0]
    if shape.geom_type != wanted:
        advice = "Split it into single parts with names of their own."
        return None, (f"a {shape.geom_type}", f"one {wanted}", advice)
    shape = shapely.force_2d(shape)
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        return None, ("a corner that is no number", "finite coordinates", "Draw the shape again.")
    if wanted == "Polygon" and not shape.is_valid:
        reason = shapely.is_valid_reason(shape)
        return None, (f"an outline that is not simple ({reason})", "a simple outline", "Redraw it.")
    if wanted == "LineString" and shape.length == 0:
        return None, ("a line without length", "a line of two points or more", "Redraw it.")
    return shape, None
