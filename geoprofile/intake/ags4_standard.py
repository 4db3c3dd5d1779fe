"""What an AGS4 file says by the standard's own headings where it has none of ours.

A file of somebody else defines no heading for the zone of a test or the top of a diameter. Where
the standard's dictionary and lists of codes leave one reading, it is taken, and told; what they
leave open stays empty, and the table asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from typing import TypeAlias

Row: TypeAlias = dict[str, str]
Tables: TypeAlias = dict[str, list[Row]]
# codes of the standard's lists FGHG_CNFG and MONG_TYPE
ISOLATION: Mapping[str, str] = {
    "PKD": "straddle", "PKSD": "straddle", "PKS": "below packer", "PKSI": "below packer",
    "SP": "screen", "SPIE": "screen", "BH": "open hole",
}  # fmt: skip
UNITS_OF_UNIT = ("GEOL_FORM", "GEOL_GEOL", "GEOL_LEG")
LEVEL, METRE = "WDEP", "m"
OUR_READING = "DISPL"
# headings that are read here, though no column takes them as they are
USED = (
    "FGHG_CNFG", "FGHG_PRWL", "FGHS_ENTM", "FGHS_STTM", "GEOL_GEOL", "GEOL_LEG", "MONG_TYPE",
)  # fmt: skip
TEST = ("LOCA_ID", "FGHG_TOP", "FGHG_BASE", "FGHG_TESN")
LEFT_TYPES = ("CONSTANT FLOW RATE",)  # no method here takes such a test


def completed(tables: Tables) -> tuple[str, ...]:
    """Fill the headings that we read from those of the standard, in place.

    Parameters
    ----------
    tables : dict
        Rows of each group by heading, those with units and types among them.

    Returns
    -------
    tuple of str
        What was taken from where, and which rows are left, in words; empty for a file of ours.
    """
    return tuple(words for step in STEPS for words in step(tables))


def _data(tables: Tables, group: str) -> list[Row]:
    return [r for r in tables.get(group, ()) if r["HEADING"] == "DATA"]


def _has(tables: Tables, group: str, heading: str) -> bool:
    return any(heading in r for r in tables.get(group, ())[:1])


def _add(tables: Tables, group: str, heading: str, unit: str = "") -> None:
    """A heading that the group lacks, empty in every row."""
    for row in tables[group]:
        row.setdefault(heading, unit if row["HEADING"] == "UNIT" else "")


def _keep(tables: Tables, group: str, left: Iterable[Row]) -> int:
    """Take rows out of a group; how many."""
    gone = {id(r) for r in left}
    if gone:
        tables[group] = [r for r in tables[group] if id(r) not in gone]
    return len(gone)


def _left_tests(tables: Tables) -> Iterator[str]:
    left = [r for r in _data(tables, "FGHG") if r.get("FGHG_TYPE") in LEFT_TYPES]
    keys = {tuple(r[h] for h in TEST) for r in left}
    if _keep(tables, "FGHG", left):
        for group in ("FGHS", "FGHT", "FGHI"):
            rows = _data(tables, group)
            _keep(tables, group, [r for r in rows if tuple(r[h] for h in TEST) in keys])
        yield f"{len(left)} test(s) at a constant flow rate are left: no method here takes them"


def _levels(tables: Tables) -> Iterator[str]:
    """Readings of a monitoring point that are no depth to water in metres."""
    left = [
        r
        for r in _data(tables, "MOND")
        if r.get("MOND_TYPE", "") != LEVEL
        or r.get("MOND_UNIT", "") != METRE
        or not _is_number(r.get("MOND_RDNG", ""))
    ]
    kinds = sorted({f"{r.get('MOND_TYPE', '')} {r.get('MOND_RDNG', '')}"[:24] for r in left})
    if _keep(tables, "MOND", left):
        named = ", ".join(kinds[:4])
        yield f"{len(left)} monitoring reading(s) that are no depth to water in m are left: {named}"


def _readings(tables: Tables) -> Iterator[str]:
    left = [r for r in _data(tables, "FGHT") if r.get("FGHT_TYPE", "") != OUR_READING]
    kinds = sorted({r.get("FGHT_TYPE", "") for r in left})
    if _keep(tables, "FGHT", left):
        yield f"{len(left)} reading(s) of tests are left, whose type is {', '.join(kinds)}"


def _tops(tables: Tables) -> Iterator[str]:
    """A diameter holds from the base of the one above; casing runs from the ground."""
    if _data(tables, "HDIA") and not _has(tables, "HDIA", "HDIA_TOP"):
        _add(tables, "HDIA", "HDIA_TOP", METRE)
        above: dict[str, str] = {}
        for row in sorted(_data(tables, "HDIA"), key=lambda r: _number(r.get("HDIA_DPTH", ""))):
            row["HDIA_TOP"] = above.get(row["LOCA_ID"], "0")
            above[row["LOCA_ID"]] = row.get("HDIA_DPTH", "")
        yield "a diameter of the hole (HDIA) is taken from the base of the one above it"
    if _data(tables, "CDIA") and not _has(tables, "CDIA", "CDIA_TOP"):
        _add(tables, "CDIA", "CDIA_TOP", METRE)
        for row in _data(tables, "CDIA"):
            row["CDIA_TOP"] = "0"
        yield "casing (CDIA) is taken to run from the ground"


def _units(tables: Tables) -> Iterator[str]:
    """The unit of a stratum: its formation, else the words of its geology or legend code."""
    rows = _data(tables, "GEOL")
    if not rows or all(r.get("GEOL_FORM") for r in rows):
        return
    words = {(r["ABBR_HDNG"], r["ABBR_CODE"]): r["ABBR_DESC"] for r in _data(tables, "ABBR")}
    _add(tables, "GEOL", "GEOL_FORM")
    taken = set()
    for row in rows:
        named = next((h for h in UNITS_OF_UNIT if row.get(h)), "")
        if named not in ("", "GEOL_FORM"):
            row["GEOL_FORM"] = words.get((named, row[named]), row[named])
            taken.add(named)
    if taken:
        yield f"the unit of strata without a formation is taken from {' and '.join(sorted(taken))}"


def _zones(tables: Tables) -> Iterator[str]:
    """Zones of monitoring points by their type, and zones of tests by top, base and set-up."""
    yield from _isolation_of_points(tables)
    tests = [r for r in _data(tables, "FGHG") if not r.get("FGHG_ZONE")]
    if not tests:
        return
    _add(tables, "FGHG", "FGHG_ZONE")
    _with_points(tables)
    known = {_place(r, "MONG_TRZ", "MONG_BRZ"): r.get("MONG_ID", "") for r in _data(tables, "MONG")}
    for row in tests:
        place = _place(row, "FGHG_TOP", "FGHG_BASE")
        if place not in known:
            known[place] = f"{row['LOCA_ID']} {row['FGHG_TOP']}-{row['FGHG_BASE']}"
            tables["MONG"].append(_zone_of(row, known[place]))
        row["FGHG_ZONE"] = known[place]
    yield "zones of tests are taken from their top, base and set-up (FGHG_CNFG)"
    if any(r.get("FGHS_HEAD") for r in _data(tables, "FGHS")):
        yield "the applied head of a step (FGHS_HEAD) is taken as the rise over the water before"
    if any(r.get("FGHG_IPRM") for r in tests):
        yield "K of the file (FGHG_IPRM) is not read: K is computed from readings and steps"


def _isolation_of_points(tables: Tables) -> Iterator[str]:
    points = [r for r in _data(tables, "MONG") if not r.get("MONG_ISOL")]
    found = [r for r in points if r.get("MONG_TYPE", "") in ISOLATION]
    if found:
        _add(tables, "MONG", "MONG_ISOL")
        for row in found:
            row["MONG_ISOL"] = ISOLATION[row["MONG_TYPE"]]
        yield "how a monitoring point is isolated is taken from its type (MONG_TYPE)"


def _with_points(tables: Tables) -> None:
    """The group of zones, with the headings that zones of tests fill."""
    if "MONG" not in tables:
        tables["MONG"] = [{"HEADING": "UNIT", "line_number": "0"}]
    for heading, unit in (
        ("LOCA_ID", ""), ("MONG_ID", ""), ("MONG_TRZ", METRE), ("MONG_BRZ", METRE),
        ("MONG_ISOL", ""), ("MONG_STAT", METRE),
    ):  # fmt: skip
        _add(tables, "MONG", heading, unit)


def _zone_of(test: Row, name: str) -> Row:
    """A zone as its test has it; the water before the test is its static level."""
    return {
        "HEADING": "DATA",
        "line_number": test["line_number"],
        "LOCA_ID": test["LOCA_ID"],
        "MONG_ID": name,
        "MONG_TRZ": test["FGHG_TOP"],
        "MONG_BRZ": test["FGHG_BASE"],
        "MONG_ISOL": ISOLATION.get(test.get("FGHG_CNFG", ""), ""),
        "MONG_STAT": test.get("FGHG_PRWL", ""),
    }


def _zones_of_samples(tables: Tables) -> Iterator[str]:
    """A sample of water belongs to the one zone of its hole that holds its depth."""
    samples = [
        r
        for r in _data(tables, "SAMP")
        if not r.get("SAMP_ZONE") and r.get("SAMP_TYPE", "") in ("EW", "G")
    ]
    zones = _data(tables, "MONG")
    taken = 0
    for row in samples:
        around = [
            z
            for z in zones
            if z["LOCA_ID"] == row["LOCA_ID"]
            and z.get("MONG_ID", "") != z["LOCA_ID"]
            and _number(z.get("MONG_TRZ", ""))
            <= _number(row.get("SAMP_TOP", ""))
            <= _number(z.get("MONG_BRZ", ""))
        ]
        if len(around) == 1:
            _add(tables, "SAMP", "SAMP_ZONE")
            row["SAMP_ZONE"] = around[0].get("MONG_ID", "")
            taken += 1
    if taken:
        yield f"{taken} sample(s) belong to the one zone of their hole that holds their depth"


def _place(row: Row, top: str, base: str) -> tuple[str, float, float]:
    return row["LOCA_ID"], _number(row.get(top, "")), _number(row.get(base, ""))


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _number(text: str) -> float:
    return float(text) if _is_number(text) else float("nan")


def _minutes(tables: Tables) -> Iterator[str]:
    """The duration of pressure steps from their start and end."""
    rows = _data(tables, "FGHS")
    if not rows or _has(tables, "FGHS", "FGHS_DURM"):
        return
    _add(tables, "FGHS", "FGHS_DURM", "min")
    for row in rows:
        begun, ended = (row.get(h, "") for h in ("FGHS_STTM", "FGHS_ENTM"))
        if begun and ended:
            # in a form of time of its own, or with a zone at one end only: no duration
            with suppress(ValueError, TypeError):
                spent = datetime.fromisoformat(ended) - datetime.fromisoformat(begun)
                row["FGHS_DURM"] = repr(spent.total_seconds() / 60)
    yield from ()


STEPS = (_left_tests, _levels, _readings, _minutes, _tops, _units, _zones, _zones_of_samples)
