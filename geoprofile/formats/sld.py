"""SLD files: how each layer is drawn, for software that reads no style out of a GeoPackage."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.styles import needed_columns, sld, style_of
from geoprofile.formats._common import TABLES_SETTING, Sheet, cells, sheets_of
from geoprofile.plugins import Format, Loss, Written

if TYPE_CHECKING:
    from geoprofile.site import Site


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A style file per table with shapes, for the classes that its rows hold.

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
        A table whose classes rest on a column that was kept back has no style: a loss.
    """
    files: list[str] = []
    losses: list[Loss] = []
    for sheet in sheets_of(site, settings):
        if not sheet.table.geometry:
            continue
        if not set(needed_columns(sheet.name)) <= set(sheet.columns):
            losses.append(Loss(sheet.name, "dropped", "no style: a column it rests on is missing"))
            continue
        text = sld(style_of(sheet.name, _rows(sheet)))
        if text:
            files.append(f"{sheet.name}.sld")
            (Path(folder) / files[-1]).write_text(text, encoding="utf-8")
    return Written(tuple(files), tuple(losses))


def _rows(sheet: Sheet) -> list[dict[str, Any]]:
    """The different values that the classes are made from, in the order of the rows."""
    names = needed_columns(sheet.name)
    columns = [cells(sheet.frame[n]) for n in names]
    distinct = dict.fromkeys(zip(*columns, strict=True))
    return [dict(zip(names, row, strict=True)) for row in distinct]


PLUGIN = Format(
    "sld",
    "An SLD style per layer, for software that reads no style from a GeoPackage",
    ".sld",
    write,
    settings=(TABLES_SETTING,),
)
