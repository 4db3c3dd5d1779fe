"""Writes the tables the way field offices write them: CSV and GeoJSON, bytes fixed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from maker.ground import CRS


def csv_text(header: str, rows: Iterable[Sequence[object]]) -> str:
    """One CSV table; a cell with a comma is quoted, None is an empty cell."""
    lines = [header]
    for row in rows:
        cells = ("" if cell is None else str(cell) for cell in row)
        lines.append(",".join(f'"{c}"' if "," in c else c for c in cells))
    return "\n".join(lines) + "\n"


def write(path: Path, text: str, *, bom: bool = False, crlf: bool = False) -> None:
    """Write UTF-8 bytes, with a byte-order mark or Windows line ends where asked."""
    path.parent.mkdir(parents=True, exist_ok=True)
    body = text.replace("\n", "\r\n") if crlf else text
    path.write_bytes((b"\xef\xbb\xbf" if bom else b"") + body.encode("utf-8"))


def geojson_text(shape: str, features: Iterable[tuple[dict[str, str], list]]) -> str:
    """A feature collection in the site CRS, named in its `crs` member."""
    collection = {
        "type": "FeatureCollection",
        "crs": {
            "type": "name",
            "properties": {"name": "urn:ogc:def:crs:EPSG::" + CRS.split(":")[1]},
        },
        "features": [
            {
                "type": "Feature",
                "properties": properties,
                "geometry": {"type": shape, "coordinates": coordinates},
            }
            for properties, coordinates in features
        ],
    }
    return json.dumps(collection, indent=1) + "\n"


def number(value: float, digits: int) -> str:
    """A number with a fixed count of decimals and without a negative zero."""
    text = f"{value:.{digits}f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def significant(value: float, digits: int = 3) -> str:
    """A number with so many significant digits, in plain notation."""
    rounded = float(f"{value:.{digits - 1}e}")
    return f"{rounded:.6f}".rstrip("0").rstrip(".")
