"""DXF drawings: traces of holes and intervals in 3D, outlines on the map, and the section sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import shapely

from geoprofile.formats._common import TABLES_SETTING, Sheet, cells, left_out, sheets_of
from geoprofile.formats._dxf_r12 import Drawing, layer_name
from geoprofile.plugins import Format, Loss, Written

if TYPE_CHECKING:
    from geoprofile.site import Site

MAP, SECTIONS = "traces.dxf", "sections.dxf"
TEXT_SHARE = 0.008  # height of texts as a share of the drawing's width
LABELS = ("interval", "borehole", "name", "section", "label", "analyte", "rank")
GROUPS = ("section", "quantity", "analyte", "surface", "kind")


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A drawing of the map in 3D and one of the section sheet, in DXF R12.

    Parameters
    ----------
    site : Site
        What may leave.
    folder : str
        Empty folder.
    settings : Mapping
        `tables`.

    Returns
    -------
    Written
        All attributes but a label are lost, and a drawing has no CRS inside.
    """
    sheets = sheets_of(site, settings)
    losses = left_out((s for s in sheets if not s.table.geometry), "a drawing holds shapes only")
    files = []
    for name, plane in ((MAP, "site"), (SECTIONS, "section")):
        drawn = [s for s in sheets if s.table.geometry and s.table.plane == plane]
        if not drawn:
            continue
        text = _drawing(drawn).document()
        (Path(folder) / name).write_text(text, encoding="ascii", newline="")
        files.append(name)
        losses += [_attributes(name, s) for s in drawn]
        losses.append(_system(name, plane, site))
    return Written(tuple(files), tuple(losses))


def _drawing(sheets: list[Sheet]) -> Drawing:
    drawing = Drawing()
    height = _text_height(sheets)
    for sheet in sheets:
        labels = _labels(sheet)
        groups = _groups(sheet)
        for row, shape in enumerate(sheet.frame["geometry"]):
            if shape is None or shape.is_empty:
                continue
            layer = layer_name(sheet.name, groups[row])
            _draw(drawing, layer, shape)
            if labels[row]:
                drawing.text(layer_name(sheet.name, "label"), _anchor(shape), labels[row], height)
    return drawing


def _text_height(sheets: list[Sheet]) -> float:
    bounds = [s.frame.total_bounds for s in sheets]
    width = max(b[2] for b in bounds) - min(b[0] for b in bounds)
    return float(max(TEXT_SHARE * width, 0.1))


def _labels(sheet: Sheet) -> list[str]:
    for name in LABELS:
        if name in sheet.columns:
            return ["" if v is None else str(v) for v in cells(sheet.frame[name])]
    return [""] * len(sheet.frame)


def _groups(sheet: Sheet) -> list[str]:
    """What divides a table into layers of the drawing."""
    for name in GROUPS:
        if name in sheet.columns:
            return ["" if v is None else str(v) for v in cells(sheet.frame[name])]
    return [""] * len(sheet.frame)


def _draw(drawing: Drawing, layer: str, shape: Any) -> None:
    if shape.geom_type == "Point":
        drawing.point(layer, _vertices(shape)[0])
        return
    for line, closed in _lines(shape):
        vertices = _vertices(line)
        drawing.line(layer, vertices[:-1] if closed else vertices, closed=closed)


def _lines(shape: Any) -> Iterator[tuple[Any, bool]]:
    for part in getattr(shape, "geoms", [shape]):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                yield ring, True
        else:
            yield part, False


def _vertices(shape: Any) -> list[list[float]]:
    found: list[list[float]] = shapely.get_coordinates(shape, include_z=bool(shape.has_z)).tolist()
    return found


def _anchor(shape: Any) -> list[float]:
    return _vertices(shape)[0]


def _attributes(file: str, sheet: Sheet) -> Loss:
    what = f"{len(sheet.columns)} column(s) of {len(sheet.frame)} row(s), all but a label"
    return Loss(f"{file}, {sheet.name}", "dropped", what)


def _system(file: str, plane: str, site: Site) -> Loss:
    if plane == "section":
        words = "x is distance along the section on the sheet, y elevation; both in metres"
    else:
        datum = site.vertical_datum or "not named"
        words = f"x and y are {site.crs}, z elevation above {datum}; all in metres"
    return Loss(file, "dropped", f"no reference system inside: {words}")


PLUGIN = Format(
    "dxf",
    "DXF R12 drawings of traces in 3D and of the sections, for CAD",
    ".dxf",
    write,
    settings=(TABLES_SETTING,),
)
