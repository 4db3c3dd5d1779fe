"""The words of a hand-over: what a receiver needs who never spoke with the maker."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from geoprofile import __version__
from geoprofile.drawing.document import document_of
from geoprofile.drawing.people import shown_of
from geoprofile.formats._common import OWNERS
from geoprofile.handover.shown import still_showing, taken_along
from geoprofile.plugins import Loss
from geoprofile.plugins.registry import plugins
from geoprofile.schema import TABLES, Table

if TYPE_CHECKING:
    from geoprofile.site import Site

WIDTH = 96
ASKED = ("author", "revision", "status", "contact", "terms_of_use")
DATES = (
    ("drilled", "borehole", "drilled_on"),
    ("tested", "test", "started_at"),
    ("sampled", "sample", "sampled_at"),
    ("water levels measured", "water_level", "measured_at"),
)
TOP = {
    "README.txt": "this text",
    "metadata.xml": "what a catalogue asks, as ISO 19115-3 (element names from memory, not held "
    "against the schemas): contact, terms, place, time",
    "report.html": "the report; any browser opens it, no network needed",
    "ro-crate-metadata.json": "where every file comes from: runs, settings, inputs (RO-Crate 1.1)",
    "checksums.sha256": "SHA-256 of every file, for `sha256sum -c`",
}
FOLDERS = {
    "attachments": "photos and documents, listed in table attachment",
    "review": "inputs, settings, versions and fingerprints to compute every table again",
}
CONVENTIONS = (
    "Depths run along the hole from ground level, positive down; elevations are up from the "
    "vertical datum. Coordinates come as easting, northing, elevation. Times are UTC. Every "
    "number's unit stands at the end of its column name, in the dictionary, or in a column "
    "beside it.",
    "discharge_cell and the tables whose name begins with section_ and which hold bands, "
    "intervals, holes, plume edges or surfaces lie on the section sheet: x is distance along the "
    "line plus the section's start on the sheet, y is elevation. In those whose name ends in "
    "_exaggerated, y is elevation times the column exaggeration. section_trace is on the map, and "
    "section_wall stands upright on it: 3D views show it, and tools that check shapes in two "
    "dimensions call it invalid.",
    "A substance that was not detected has detected = false, its reporting limit, and no value: an "
    "empty value is not zero.",
)
LIMITS = (
    "Fields between boreholes are estimates. Use them with their spread (sd, probability, "
    "coverage), and not beyond the boreholes they rest on.",
    "The extent of a plume is a statement of probability against a value that the user chose. It "
    "is no verdict on risk, and no legal limit ships with the program.",
    "K is that of the tested interval at the scale of the test and at in-situ temperature. "
    "A rejected test is in the table with its reasons; leave it out of decisions.",
    "Planned depths, pressures and volumes are proposals. Packers under pressure can injure and "
    "kill: the makers' limits, local codes and the people on site come first. Find buried services "
    "and contamination before any drilling.",
    "Decisions on health, drinking water or building need a licensed professional and the "
    "authority in charge.",
)


def readme(
    site: Site,
    *,
    made_on: str,
    files: Sequence[str],
    losses: Mapping[str, Sequence[Loss]],
    held: Sequence[str] = (),
) -> str:
    """The README.txt of a hand-over.

    Parameters
    ----------
    site : Site
        What leaves.
    made_on : str
        Day, ISO 8601.
    files : Sequence of str
        Relative to the folder.
    losses : Mapping
        By format.
    held : Sequence of str
        What the maker kept back, by table or table.column.

    Returns
    -------
    str
        Plain text.
    """
    parts = [
        _title(f"{site.name}: results of packer tests and zone samples"),
        f"Made on {made_on} with geoprofile {__version__}.\n",
        *_list("WHAT IS IN THE FOLDER", _contents(files)),
        *_list("WHO ANSWERS, AND ON WHAT TERMS", _terms(site)),
        *_paragraphs("REFERENCE SYSTEMS", _systems(site)),
        *_list("DATES (UTC)", _dates(site)),
        *_list("METHODS", _methods(site)),
        *_list("LIMITS AND CAUTIONS", LIMITS),
        *(_list("WHAT WAS KEPT BACK", _kept_back(site, held)) if held else ()),
        *_list("WHAT THE FORMATS COULD NOT CARRY", _losses(losses)),
        _title("TABLES AND COLUMNS"),
        *(_table(t, site.tables[t.name]) for t in _described(site)),
    ]
    return "\n".join(parts)


def _title(text: str) -> str:
    return f"{text}\n{'=' * min(len(text), WIDTH)}\n"


def _list(title: str, lines: Sequence[str]) -> Iterator[str]:
    yield _title(title)
    yield "".join(_wrapped(f"- {line}", "  ") for line in lines or ["nothing"])


def _paragraphs(title: str, lines: Sequence[str]) -> Iterator[str]:
    yield _title(title)
    yield "\n".join(_wrapped(line) for line in lines)


def _wrapped(line: str, indent: str = "") -> str:
    return textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False) + "\n"


def _contents(files: Sequence[str]) -> list[str]:
    """Files at the top by name, folders with what they hold."""
    known = plugins("formats")
    count = Counter(f.split("/")[0] for f in files if "/" in f)
    lines = [f"{f}: {TOP[f]}" if f in TOP else f for f in files if "/" not in f]
    for folder, number in count.items():
        words = known[folder].summary if folder in known else FOLDERS.get(folder, "")
        lines.append(f"{folder}/ ({number} files): {words}")
    return lines


def _terms(site: Site) -> list[str]:
    """The title block and the terms, as site.toml says them under [document]."""
    document = document_of(site)
    told = {name.lower(): text for name, text in (*document.parts, *document.terms)}
    missing = [key.replace("_", " ") for key in ASKED if key.replace("_", " ") not in told]
    lines = [f"{name.capitalize()}: {text}" for name, text in told.items()]
    if missing:
        lines.append(f"Not stated by the maker: {', '.join(missing)}. Ask before using the data.")
    return lines


def _systems(site: Site) -> list[str]:
    from pyproj import CRS

    name = CRS.from_user_input(site.crs).name
    datum = site.vertical_datum or "not named by the maker: ask before using any elevation"
    return [
        f"Horizontal: {site.crs} ({name}), x is easting, y is northing, in metres.",
        f"Vertical: {datum}. No height was shifted to another datum.",
        *CONVENTIONS,
        *_read_in(site),
    ]


def _read_in(site: Site) -> list[str]:
    """Where other units than those of the tables are read."""
    instead = shown_of(site).instead
    if not instead:
        return []
    told = ", ".join(f"{other} for {unit}" for unit, other in instead.items())
    return [
        f"The maker reads {told}: so do report.html and the scale bars of the project. The tables "
        "keep the units that their column names end in."
    ]


def _dates(site: Site) -> list[str]:
    return [
        f"{words}: {values.min()} to {values.max()}"
        for words, table, column in DATES
        if len(values := _filled(site, table, column))
    ]


def _filled(site: Site, table: str, column: str) -> pd.Series[Any]:
    frame = site.table(table)
    if column not in frame:
        return pd.Series([], dtype=object)
    return frame[column].dropna()


def _methods(site: Site) -> list[str]:
    """The methods that the tables name, with their sources, and how fields were judged."""
    known = plugins("methods")
    used = sorted(set(_filled(site, "conductivity", "method")))
    lines = [
        f"{known[m].title if m in known else m}: {known[m].source if m in known else 'a plugin'}"
        for m in used
    ]
    for row in site.table("model").to_dict("records"):
        lines.append(
            f"field of {row['quantity']}: {row['covariance']} covariance of {row['transform']}, "
            f"{row['data_count']} intervals in {row['borehole_count']} boreholes, judged by "
            "leaving out one borehole at a time (scores in table field)"
        )
    return lines


def _losses(losses: Mapping[str, Sequence[Loss]]) -> list[str]:
    return [
        f"{name}: " + (f"{len(found)}, listed in {name}/losses.txt" if found else "nothing lost")
        for name, found in losses.items()
    ]


def _kept_back(site: Site, held: Sequence[str]) -> list[str]:
    """What stayed with the maker, and what leaves although it was computed from it."""
    lines = [f"Kept back by the maker: {', '.join((*held, *taken_along(held)))}."]
    left = [t for t in still_showing(held) if len(site.tables.get(t, ()))]
    if left:
        lines.append(
            f"Still computed from it, and so still telling something of it: {', '.join(left)}, and "
            "the report's figures drawn from them."
        )
    return lines


def _described(site: Site) -> list[Table]:
    return [
        t for t in TABLES.values() if t.owner in OWNERS and len(site.tables.get(t.name, ())) > 0
    ]


def _table(table: Table, frame: pd.DataFrame) -> str:
    shape = f", {table.geometry}" if table.geometry else ""
    lines = [f"{table.name}: {table.title} ({len(frame)} rows{shape})\n"]
    lines.append(_wrapped(f"  {table.description}.", "  "))
    for column in table.columns:
        if column.name not in frame:
            continue
        unit = {"": "", "1": " [pure number]"}.get(column.unit, f" [{column.unit}]")
        lines.append(_wrapped(f"    {column.name}{unit}: {column.meaning}", "      "))
    return "".join(lines)
