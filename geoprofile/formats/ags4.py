"""AGS4, edition 4.1.1: the open text format of geotechnical data that surveys and clients take."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import __version__
from geoprofile.formats._ags4_map import (
    BY_NAME,
    DAY,
    EDITION,
    GROUPS,
    MOMENT,
    TYPE_WORDS,
    UNIT_WORDS,
    Group,
    Head,
)
from geoprofile.formats._common import OWNERS, safe_name
from geoprofile.plugins import Format, Loss, Setting, Written
from geoprofile.schema import TABLES
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

ZULU = f"{MOMENT}Z"
FINE = f"{MOMENT}.sssZ"
LEAST, MOST = 2, 6  # decimals of depths and places
CARRIED = {g.table for g in GROUPS}
Row = dict[str, Any]
Lines = dict[str, list[dict[str, str]]]


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """One file of boreholes, construction, geology, tests with K, levels, samples and results.

    Parameters
    ----------
    site : Site
        What may leave.
    folder : str
        Empty folder.
    settings : Mapping
        `project_id`, `produced_by`, `received_by`.

    Returns
    -------
    Written
        Tables, columns and characters that the file cannot carry are losses.
    """
    made = _Writer(site, settings)
    lines = made.groups()
    text = "\r\n".join(_text(site, lines, made, settings))
    name = f"{safe_name(site.name)}.ags"
    (Path(folder) / name).write_text(text, encoding="utf-8", newline="")
    return Written((name,), tuple(made.losses))


class _Writer:
    """Rows of the site as rows of the groups; collects what is lost on the way."""

    def __init__(self, site: Site, settings: Mapping[str, Any]) -> None:
        self.site, self.losses = site, [*_left_out(site)]
        self.project = str(settings["project_id"] or safe_name(site.name))
        self.rows = {t: records_of(site.table(t)) for t in CARRIED if t and len(site.table(t))}
        self.zones = {str(r["interval"]): r for r in self.rows.get("interval", [])}
        self.tests = {str(r["test"]): r for r in self.rows.get("test", [])}
        self.samples = {str(r["sample"]): r for r in self.rows.get("sample", [])}
        self.fitted = (
            {str(r["test"]): r for r in records_of(site.table("conductivity")) if r["preferred"]}
            if len(site.table("conductivity"))
            else {}
        )
        self.decimals = self._decimals()
        self.changed = 0

    def _decimals(self) -> int:
        """As many decimals as the depths and places have, within reason."""
        columns = {(g.table, h.column) for g in GROUPS for h in g.heads if h.kind == "DP"}
        values = [
            float(r[c]) for t, c in columns for r in self.rows.get(t, []) if _is_there(r.get(c))
        ]
        for places in range(LEAST, MOST):
            if all(abs(round(v, places) - v) < 1e-9 for v in values):
                return places
        off = sum(abs(round(v, MOST) - v) > 1e-9 for v in values)
        if off:
            what = f"{off} number(s) to {MOST} decimals"
            self.losses.append(Loss("depths and places", "rounded", what))
        return MOST

    def groups(self) -> Lines:
        """Every group that has rows, in the order of the map."""
        found = {g.name: [self._line(g, r) for r in self._rows_of(g)] for g in GROUPS}
        if self.changed:
            what = f"{self.changed} text(s): line breaks and characters beyond Latin-1"
            self.losses.append(Loss("texts", "changed", what))
        return {name: rows for name, rows in found.items() if rows}

    def _rows_of(self, group: Group) -> Iterable[Row]:
        if group.name == "FGHI":
            with_readings = {str(r["test"]) for r in self.rows.get("reading", [])}
            return [t for n, t in self.tests.items() if n in with_readings]
        rows = self.rows.get(group.table, [])
        if group.name == "MONG":
            open_holes = {
                str(r["borehole"])
                for r in self.rows.get("water_level", [])
                if not _is_there(r["interval"])
            }
            return [
                *rows,
                *({"borehole": h, "interval": h, "top_m": None} for h in sorted(open_holes)),
            ]
        if group.name in ("SAMP", "ERES"):
            return self._with_zone(group, rows)
        if group.name == "HORN":
            return _reaches(rows, {r["borehole"]: r["depth_m"] for r in self.rows["borehole"]})
        return [r for r in rows if not group.kinds or r["kind"] in group.kinds]

    def _with_zone(self, group: Group, rows: Iterable[Row]) -> list[Row]:
        """Samples of a zone, or their results; others have no place along a hole."""
        listed = list(rows)
        kept = [r for r in listed if self._zone(group, r)]
        if len(kept) < len(listed):
            what = f"{len(listed) - len(kept)} row(s) of samples that belong to no interval"
            self.losses.append(Loss(group.table, "dropped", what))
        return kept

    def _zone(self, group: Group, row: Row) -> Row:
        """The zone that a row belongs to; empty if to none."""
        if group.name == "ERES":
            row = self.samples.get(str(row["sample"]), {})
        elif group.name in ("FGHI", "FGHS", "FGHT", "STFL"):
            row = self.tests.get(str(row["test"]), {})
        return self.zones.get(str(row.get("interval")), {})

    def _line(self, group: Group, row: Row) -> dict[str, str]:
        zone = self._zone(group, row)
        return {h.name: self._cell(group, h, row, zone) for h in group.heads}

    def _cell(self, group: Group, head: Head, row: Row, zone: Row) -> str:
        if head.column and not head.codes:
            value = row.get(head.column)
            if head.column == "wkt":
                value = _wkt(row["geometry"])
            if head.column == "borehole" and not _is_there(value):
                value = zone.get("borehole")
            if head.name == "HORN_INCL":
                value = 90.0 - float(row["inclination_deg"])
            if head.name == "MONG_ID" and not _is_there(value):
                value = row["borehole"]  # a level of the open hole
        else:
            value = self._made(group, head, row, zone)
        return self._written(head, value)

    def _made(self, group: Group, head: Head, row: Row, zone: Row) -> Any:
        """What is not a column of the row itself."""
        if head.name in ("FGHG_TOP", "SAMP_TOP", "SPEC_DPTH"):
            return zone.get("top_m")
        if head.name in ("FGHG_BASE", "SAMP_BASE"):
            return zone.get("bottom_m")
        if head.name == "MONG_DIS":
            own = row if group.name == "MONG" else self.zones.get(str(row.get("interval")), {})
            return own.get("top_m") if _is_there(own.get("top_m")) else 0.0
        if head.name == "HORN_BASE":
            return row["until_m"]
        if head.name == "FGHT_TIME":
            return _later(self.tests[str(row["test"])].get("started_at"), row["elapsed_s"])
        if head.name == "SAMP_ID":
            return row["sample"]
        if head.name in ("SAMP_TYPE", "ERES_MATX"):
            sample = row if group.name == "SAMP" else self.samples[str(row["sample"])]
            medium = sample.get("medium")
            return _code(head.codes, medium if _is_there(medium) else "water")
        fitted = self.fitted.get(str(row.get("test")), {})
        known = {
            "datum": self.site.vertical_datum,
            "project": self.project,
            "k": fitted.get("k_m_per_s"),
            "lu": fitted.get("lugeon"),
            "code": code_of(row),
        }
        if head.fixed:
            return known.get(head.fixed, head.fixed)
        value = row.get(head.column)
        if isinstance(value, bool):
            return "Y" if value else "N"
        return _code(head.codes, value) if head.codes and _is_there(value) else None

    def _written(self, head: Head, value: Any) -> str:
        if not _is_there(value):
            return ""
        if head.kind == "DP":
            return f"{float(value):.{self.decimals}f}"
        if head.kind == "0DP":
            return str(int(value))
        if head.kind == "4SCI":
            return f"{float(value):.4e}"
        if isinstance(value, float):
            return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
        text = str(value)
        plain = "".join(
            c if c.isprintable() and ord(c) < 256 else "?" for c in " ".join(text.split("\n"))
        )
        self.changed += plain != text
        return _moment(plain) if head.unit == MOMENT and head.name != "FGHT_TIME" else plain


def _left_out(site: Site) -> Iterator[Loss]:
    """Tables and columns of the user's that the groups have no place for."""
    for name, frame in site.tables.items():
        if name in TABLES and TABLES[name].owner in OWNERS and len(frame) and name not in CARRIED:
            if name != "conductivity":
                yield Loss(name, "dropped", f"{len(frame)} row(s): no group of the standard")
            else:
                what = "K and Lugeon value of the preferred method alone, to five digits"
                yield Loss(name, "rounded", what)
        if name in CARRIED:
            held = {h.column for g in GROUPS if g.table == name for h in g.heads}
            held |= {"geometry", "borehole", "test", "run", "kind"}
            for column in frame.columns:
                if column not in held and frame[column].notna().any():
                    yield Loss(f"{name}, {column}", "dropped", "no heading for it")


def _wkt(shape: Any) -> str:
    """A shape as well-known text with all its digits."""
    from shapely import to_wkt

    return str(to_wkt(shape, rounding_precision=-1))


def _is_there(value: Any) -> bool:
    return value is not None and value == value and str(value) not in ("<NA>", "NaT", "")


def _code(codes: Mapping[str, str], word: Any) -> str:
    return next((c for c, w in codes.items() if w == str(word)), "")


def code_of(row: Row) -> str:
    """The code of a substance: its CAS number, or its name."""
    said = row.get("cas") if _is_there(row.get("cas")) else row.get("analyte")
    return "" if said is None else str(said).replace("+", "/")


def _moment(text: str) -> str:
    """A time of the store as the standard writes it, UTC."""
    if len(text) == len(DAY):
        return f"{text}T00:00:00Z"
    return f"{text[:19]}Z"


def _later(start: Any, elapsed_s: float) -> str:
    if not _is_there(start):
        return ""
    begun = datetime.fromisoformat(str(start).replace("Z", "+00:00")).astimezone(UTC)
    then = begun + timedelta(seconds=float(elapsed_s))
    return then.strftime("%Y-%m-%dT%H:%M:%S.") + f"{then.microsecond // 1000:03d}Z"


def _reaches(rows: Iterable[Row], ends: Mapping[str, float]) -> list[Row]:
    """Stations of a survey, each with the depth up to which it holds."""
    ordered = sorted(rows, key=lambda r: (str(r["borehole"]), float(r["depth_m"])))
    after = [*ordered[1:], {"borehole": None}][: len(ordered)]
    return [
        {
            **r,
            "until_m": n["depth_m"]
            if n["borehole"] == r["borehole"]
            else max(float(r["depth_m"]), float(ends[r["borehole"]])),
        }
        for r, n in zip(ordered, after, strict=True)
    ]


def _text(site: Site, lines: Lines, made: _Writer, settings: Mapping[str, Any]) -> Iterator[str]:
    """The lines of the file: project and transmission, dictionaries, then the data."""
    today = datetime.now(UTC).date().isoformat()
    memo = f"{site.crs}; made with geoprofile {__version__}"
    plain = {"PROJ_ID": made.project, "PROJ_NAME": site.name}
    yield from _block("PROJ", {**plain, "PROJ_MEMO": memo}, types={"PROJ_ID": "ID"})
    sent = {
        "TRAN_ISNO": "1", "TRAN_DATE": today, "TRAN_PROD": settings["produced_by"],
        "TRAN_STAT": "As handed over", "TRAN_AGS": EDITION, "TRAN_RECV": settings["received_by"],
        "TRAN_DLIM": "|", "TRAN_RCON": "+",
    }  # fmt: skip
    yield from _block("TRAN", sent, types={"TRAN_DATE": "DT"}, units={"TRAN_DATE": DAY})
    groups = [BY_NAME[name] for name in lines]
    heads = [(g, h) for g in groups for h in g.heads]
    yield from _listed(
        "DICT",
        [*_own_groups(groups), *_dictionary(heads, made)],
        {"DICT_TYPE": "PA", "DICT_STAT": "PA", "DICT_DTYP": "PT", "DICT_UNIT": "PU"},
    )
    yield from _listed("ABBR", _abbreviations(heads, made), {})
    units = {u: UNIT_WORDS.get(u, u) for u in sorted(_units(heads, lines))}
    yield from _listed("UNIT", [{"UNIT_UNIT": u, "UNIT_DESC": w} for u, w in units.items()], {})
    kinds = sorted({_type(h, made) for _, h in heads} | {"ID", "X", "DT", "PA", "PT", "PU"})
    words = [
        {"TYPE_TYPE": k, "TYPE_DESC": TYPE_WORDS.get(k, "Number of so many decimals")}
        for k in kinds
    ]
    yield from _listed("TYPE", words, {})
    for group in groups:
        rows = [[_quoted(r[h.name]) for h in group.heads] for r in lines[group.name]]
        yield from _group(
            group.name, [h.name for h in group.heads], [_unit(h) for h in group.heads],
            [_type(h, made) for h in group.heads], rows,
        )  # fmt: skip


def _own_groups(groups: Iterable[Group]) -> list[dict[str, str]]:
    """The groups that the file defines itself."""
    plain = dict.fromkeys(("DICT_HDNG", "DICT_STAT", "DICT_DTYP", "DICT_DESC", "DICT_UNIT"), "")
    return [
        {
            "DICT_TYPE": "GROUP",
            "DICT_GRP": g.name,
            **plain,
            "DICT_DESC": g.says,
            "DICT_PGRP": g.parent,
        }
        for g in groups
        if g.parent
    ]


def _dictionary(heads: Iterable[tuple[Group, Head]], made: _Writer) -> list[dict[str, str]]:
    """The headings that the file defines itself."""
    return [
        {
            "DICT_TYPE": "HEADING",
            "DICT_GRP": g.name,
            "DICT_HDNG": h.name,
            "DICT_STAT": "KEY" if h.is_key else "OTHER",
            "DICT_DTYP": _type(h, made),
            "DICT_DESC": h.ours,
            "DICT_UNIT": _unit(h),
            "DICT_PGRP": "",
        }
        for g, h in heads
        if h.ours
    ]


def _abbreviations(heads: Iterable[tuple[Group, Head]], made: _Writer) -> list[dict[str, str]]:
    found = {("DICT_TYPE", "HEADING"): "Heading", ("DICT_STAT", "OTHER"): "Other"}
    found |= {("DICT_STAT", "KEY"): "Key", ("DICT_TYPE", "GROUP"): "Group"}
    for _, head in heads:
        found |= {(head.name, code): word for code, word in head.codes.items() if head.kind == "PA"}
    for row in made.rows.get("result", []):
        found["ERES_CODE", code_of(row)] = str(row["analyte"])
    return [
        {
            "ABBR_HDNG": h,
            "ABBR_CODE": made._written(Head(""), c),
            "ABBR_DESC": made._written(Head(""), w),
        }
        for (h, c), w in found.items()
    ]


def _units(heads: Iterable[tuple[Group, Head]], lines: Lines) -> set[str]:
    used = {_unit(h) for _, h in heads} | {DAY, "m"}
    return (used | {r["ERES_RUNI"] for r in lines.get("ERES", [])}) - {""}


def _unit(head: Head) -> str:
    if head.name == "FGHT_TIME":
        return FINE
    return ZULU if head.unit == MOMENT else head.unit


def _type(head: Head, made: _Writer) -> str:
    return f"{made.decimals}DP" if head.kind == "DP" else head.kind


def _quoted(text: str) -> str:
    return text.replace('"', '""')


def _block(
    name: str,
    row: Mapping[str, Any],
    *,
    types: Mapping[str, str],
    units: Mapping[str, str] | None = None,
) -> Iterator[str]:
    heads = list(row)
    plain = ["".join(c if ord(c) < 256 else "?" for c in str(v)) for v in row.values()]
    yield from _group(
        name, heads, [(units or {}).get(h, "") for h in heads], [types.get(h, "X") for h in heads],
        [[_quoted(v) for v in plain]],
    )  # fmt: skip


def _listed(name: str, rows: list[dict[str, str]], types: Mapping[str, str]) -> Iterator[str]:
    if not rows:
        return
    heads = list(rows[0])
    cells = [[_quoted(r[h]) for h in heads] for r in rows]
    yield from _group(name, heads, [""] * len(heads), [types.get(h, "X") for h in heads], cells)


def _group(
    name: str, heads: list[str], units: list[str], types: list[str], rows: list[list[str]]
) -> Iterator[str]:
    yield f'"GROUP","{name}"'
    named = (("HEADING", heads), ("UNIT", units), ("TYPE", types), *(("DATA", r) for r in rows))
    for kind, cells in named:
        yield ",".join(f'"{c}"' for c in (kind, *cells))
    yield ""


PLUGIN = Format(
    "ags4",
    "AGS4 (edition 4.1.1): holes, geology, tests with K, levels, samples and results",
    ".ags",
    write,
    settings=(
        Setting("project_id", "", "", "Identifier of the project; the site's name when empty"),
        Setting("produced_by", "Not stated", "", "Who produced the file"),
        Setting("received_by", "Not stated", "", "For whom the file is"),
    ),
)
