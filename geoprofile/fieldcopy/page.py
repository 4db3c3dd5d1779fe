"""One page with entry boxes for the zones of the plan; it opens in any browser, without a network.

Nothing is left to the browser's own store: each zone is saved as a file as soon as it is done, and
the page warns when it is closed with entries that were not saved.
"""

from __future__ import annotations

import html
import json
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from geoprofile.fieldcopy.rows import Rows
from geoprofile.schema import TABLES, Column
from geoprofile.site import Site
from geoprofile.whole import write_text

ENTERED = ("interval", "sample", "water_level")  # rows that are filled in beside the hole
CAUTION = (
    "Packers stand under pressure: keep clear of lines and hoses while they are inflated, stay "
    "below the maker's limits, and vent before any connection is opened. Water and gas from the "
    "zone may be contaminated. Local codes, the maker's limits and licensed practice come first."
)


def write_page(
    file: Path, site: Site, mark: str, boreholes: Sequence[str], rows: Mapping[str, Rows]
) -> None:
    """Write the page of a copy."""
    zones = [
        _zone(row, rows)
        for row in sorted(
            rows.get("interval", {}).values(), key=lambda r: (r["borehole"], r["top_m"] or 0.0)
        )
    ]
    zones += [_whole(name) for name in boreholes]
    room = files("geoprofile.fieldcopy")
    title = html.escape(f"{site.name}: {', '.join(boreholes)}, field copy {mark}")
    text = (
        "<!doctype html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width, initial-scale=1'>"
        "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'; "
        "img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'\">"
        f"<title>{title}</title><style>{(room / 'page.css').read_text(encoding='utf-8')}</style>"
        f"</head><body data-copy='{html.escape(mark)}'><h1>{title}</h1>"
        f"<p class='caution'>{html.escape(CAUTION)}</p>"
        "<p>One device for each copy: take another copy for another device. "
        "Save each zone when it is done: the file, with its photos, goes to the downloads of this "
        "device; what is not saved is gone when the page is closed or loaded again. In the "
        "office: <code>geoprofile field in site.gpkg FILE…</code></p>"
        f"<p id='unsaved' role='status'></p>{''.join(zones)}"
        f"<script>{(room / 'page.js').read_text(encoding='utf-8')}</script></body></html>\n"
    )
    write_text(file, text)


def _zone(interval: Mapping[str, Any], rows: Mapping[str, Rows]) -> str:
    name = str(interval["interval"])
    own = _boxes("interval", interval)
    samples = [r for r in rows.get("sample", {}).values() if r.get("interval") == name]
    blocks = [_block("sample", f"Sample {r['sample']}", r, is_new=False) for r in samples]
    blocks.append(_block("sample", "New sample", {"interval": name}, is_new=True))
    level = {"borehole": interval["borehole"], "interval": name}
    blocks.append(_block("water_level", "New water level", level, is_new=True))
    title = f"{name}: {interval['top_m']:g} to {interval['bottom_m']:g} m"
    return (
        f"<section data-zone='{html.escape(name, quote=True)}'><h2>{html.escape(title)}</h2>"
        f"<fieldset data-table='interval' data-fixed='{_fixed('interval', interval)}'>"
        f"<legend>Zone</legend>{own}</fieldset>{''.join(blocks)}{_photos(interval)}"
        "<button type='button' class='save'>Save this zone</button></section>"
    )


def _whole(borehole: str) -> str:
    """What belongs to a borehole as a whole: photos of the site, the rig, the core."""
    name = html.escape(borehole, quote=True)
    return (
        f"<section data-zone='{name}'><h2>{name}: the borehole as a whole</h2>"
        f"{_photos({'borehole': borehole, 'interval': None})}"
        "<button type='button' class='save'>Save these photos</button></section>"
    )


def _photos(interval: Mapping[str, Any]) -> str:
    """Where photos are taken or chosen; they are saved with the zone."""
    home = html.escape(json.dumps({k: interval[k] for k in ("borehole", "interval")}), quote=True)
    pick = "<input type='file' accept='image/*' multiple"
    return (
        f"<div class='photos' data-of='{home}'><p><label class='pick'>Take a photo"
        f"{pick} capture='environment'></label><label class='pick'>Add photos of this device"
        f"{pick}></label></p></div>"
    )


def _block(table: str, title: str, row: Mapping[str, Any], *, is_new: bool) -> str:
    new = " data-new='yes'" if is_new else ""
    return (
        f"<fieldset data-table='{table}' data-fixed='{_fixed(table, row, is_new=is_new)}'{new}>"
        f"<legend>{html.escape(title)}</legend>{_boxes(table, row, is_new=is_new)}</fieldset>"
    )


def _fixed(table: str, row: Mapping[str, Any], *, is_new: bool = False) -> str:
    """The cells sent back as they are: the key of a row, the rows to which a new one belongs."""
    kept = {
        c.name: row[c.name]
        for c in TABLES[table].columns
        if c.name in row and (c.references if is_new else c.key)
    }
    return html.escape(json.dumps(kept), quote=True)


def _boxes(table: str, row: Mapping[str, Any], *, is_new: bool = False) -> str:
    return "".join(
        _box(column, row.get(column.name))
        for column in TABLES[table].columns
        if not column.references
        and not (column.key and not is_new)
        and not column.name.endswith("_offset")
    )


def _box(column: Column, value: Any) -> str:
    unit = f" [{column.unit}]" if column.unit not in ("", "1") else ""
    bare = column.name.removesuffix(f"_{column.unit.lower()}") if column.unit else column.name
    label = html.escape(bare.replace("_", " ") + unit)
    name = html.escape(column.name)
    shown = "" if value is None else html.escape(str(value), quote=True)
    head = f"<label title='{html.escape(column.meaning, quote=True)}'>{label}"
    said = f"name='{name}' data-kind='{column.kind}'"
    if column.allowed or column.kind == "boolean":
        words = column.allowed or ("true", "false")
        listed = "".join(
            f"<option{' selected' if str(value).lower() == w.lower() else ''}>{html.escape(w)}"
            f"</option>"
            for w in words
        )
        return f"{head}<select {said}><option value=''></option>{listed}</select></label>"
    hint = {"datetime": "2031-05-04T12:00:00Z", "date": "2031-05-04"}.get(column.kind, "")
    mode = " inputmode='decimal'" if column.kind in ("real", "integer") else ""
    return f"{head}<input {said} value='{shown}' placeholder='{hint}'{mode}></label>"
