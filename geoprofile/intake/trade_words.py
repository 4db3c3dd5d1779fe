"""Headings as people of the trade write them, and the columns that they mean.

Common practice, no source. They only ever propose: a file is read by the names of our columns, or
as its profile says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache

from geoprofile.intake.inputs import base_of, columns_of
from geoprofile.intake.unit_words import parted, suffix_of
from geoprofile.schema import Column

_KEY = "id, no, number, name"
_HOLE = "well, well id, well name, well no, location, location id, loc id, hole, hole id, boring, "
_HOLE += "bore, station, station name, monitoring well, point, borehole id, bohrung, sondage"
_TOP = "from, depth from, top depth, depth top, start depth, upper, top of interval, top of screen"
_BOTTOM = "to, depth to, bottom depth, depth bottom, end depth, lower, base, bottom of screen"
_MOMENT = "date, time, date time, datetime, timestamp, date and time, day"
# by table ("" for all), the column without its unit and the words for it
WORDS: Mapping[str, Mapping[str, str]] = {
    "": {
        "borehole": _HOLE,
        "top": _TOP,
        "bottom": _BOTTOM,
        "remarks": "comment, comments, note, notes, remark",
        "interval": "zone, zone id, interval id, test zone, sample zone, port",
        "measured_at": _MOMENT,
        "diameter": "dia, inside diameter, bore diameter, nominal diameter",
    },
    "borehole": {
        "borehole": f"{_HOLE}, {_KEY}",
        "x": "easting, east, x coordinate, x coord, rechtswert, coord x",
        "y": "northing, north, y coordinate, y coord, hochwert, coord y",
        "ground_elevation": "elevation, ground level, ground surface, ground surface elevation, "
        "surface elevation, elev, gs elev, ground elev, gse",
        "measuring_point_height": "stick up, stickup, casing stickup, toc height, casing height, "
        "top of casing height, measuring point",
        "depth": "total depth, td, hole depth, drilled depth, final depth, depth of hole",
        "drilled_on": "drilled, date drilled, drilling date, completion date, completed",
    },
    "construction": {"kind": "type, element, material, item"},
    "lithology": {
        "unit": "lithology, formation, geology, soil type, rock, stratum, layer",
        "description": "soil description, rock description, log",
    },
    "interval": {
        "isolation": "isolated by, set up, setup, method",
        "static_depth": "static level, static water level, swl, depth to static",
        "inflation": "inflation pressure, packer pressure",
        "set_at": "packers set, set time, date set",
    },
    "test": {
        "test": f"test id, test number, test name, run, {_KEY}",
        "kind": "type, test type, method",
        "started_at": "start, start time, date time, test start, started, date, time, test date",
        "riser_diameter": "pipe diameter, riser, pipe id, riser id, rod diameter",
        "expected_displacement": "h0, initial displacement, slug height, displacement",
        "water_temperature": "temperature, water temp, temp",
    },
    "reading": {
        "test": "test id, test no, test name",
        "elapsed": "elapsed time, et, seconds, elapsed seconds, run time",
        "depth_to_water": "dtw, water depth, depth to water level, level btoc",
        "absolute_pressure": "pressure, abs pressure, total pressure, value",
        "head": "water level, water level elevation, hydraulic head",
        "displacement": "change in level, level change",
    },
    "pressure_step": {
        "pressure_step": "step, step no, pressure step no",
        "gauge_pressure": "pressure, gauge, gauge reading",
        "flow": "flow rate, rate, injection rate, q",
        "minutes": "duration, time",
        "test": "test id, test no",
    },
    "water_level": {"depth_to_water": "dtw, water depth, depth, depth to water level, water level"},
    "sample": {
        "sample": f"sample id, sample name, sample no, field id, client sample id, {_KEY}",
        "sampled_at": "date sampled, sample date, sampled, collection date, sampling date, date, "
        "date collected, sample time, time, time sampled, collected, date time, time collected",
        "round": "event, sampling event, campaign, sampling round",
        "kind": "type, sample type, sample purpose, purpose, qc type",
        "medium": "matrix, sample matrix",
        "purged": "purge volume, purged volume, volume purged",
    },
    "result": {
        "sample": "sample id, sample name, sample no, field id, client sample id, sample number",
        "analyte": "parameter, compound, substance, chemical, constituent, analyte name, "
        "component, parameter name",
        "cas": "cas no, cas number, cas rn, cas registry number",
        "value": "result, concentration, result value, reported result, final result, amount, "
        "reported value, messwert, ergebnis",
        "unit": "units, result unit, result units, unit of measure",
        "limit": "reporting limit, rl, detection limit, dl, mdl, lod, loq, quantitation limit, "
        "pql, report limit",
        "qualifier": "flag, flags, qual, q, lab qualifier, lab flag, qualifiers, lab q",
        "report": "report no, report number, lab report, work order, batch, sdg, job no, lab job",
        "reported_on": "report date, date reported, reported",
        "analysed_at": "date analyzed, date analysed, analysis date, analyzed, analysed",
        "holding_limit": "holding time limit, max holding time",
    },
    "criterion": {
        "analyte": "parameter, compound, substance, chemical",
        "value": "criterion, limit, standard, guideline, screening level, action level",
        "basis": "source, reference, regulation",
        "unit": "units",
    },
    "barometer": {"pressure": "air pressure, barometric pressure, baro, atmospheric pressure"},
}


def plain_words(heading: str) -> str:
    """A heading as small letters and single blanks, without its unit and without marks."""
    name, _ = parted(heading)
    return " ".join(re.findall(r"[^\W_]+", name.casefold()))


@lru_cache(maxsize=8192)  # each row near the top of a sheet is weighed as the header of each table
def meant(heading: str, table: str) -> Column | None:
    """The column of a table that a heading most likely means."""
    words = plain_words(heading)
    if not words:
        return None
    columns = [c for c in columns_of(table) if c.name != "depth_from" or heading == c.name]
    for column in columns:
        base, _ = base_of(column)
        if words in (column.name.replace("_", " "), base.replace("_", " ")):
            return column
    for of in (table, ""):
        for column in columns:
            if words in _known(of, base_of(column)[0]):
                return column
    first, *rest = words.split()
    if rest and suffix_of(rest[-1], "US"):
        return meant(" ".join([first, *rest[:-1]]), table)
    return meant(" ".join(rest), table) if rest else None  # such as 'location easting'


@cache
def _known(table: str, base: str) -> Sequence[str]:
    said = WORDS.get(table, {}).get(base, "")
    return [w.strip() for w in said.split(",")] if said else []


def unit_in(heading: str) -> str:
    """The unit that a heading states, in brackets or as its last word; "" for none."""
    name, unit = parted(heading)
    if unit:
        return unit
    words = re.split(r"[\s,_]+", name.strip())
    return words[-1] if len(words) > 1 and suffix_of(words[-1], "US") else ""


def name_with_unit(column: Column, heading: str, unit: str = "", gallon: str = "") -> str:
    """The name of a column with the unit of a heading (or one given), as far as it is known."""
    base, own = base_of(column)
    said = unit_in(heading) or unit
    if not said or not (own or column.name in ("value", "limit")):
        return column.name if not own else base
    suffix = suffix_of(said, gallon)
    if not suffix:
        return base
    return column.name if suffix == own else f"{base}_{suffix}"


def fit(cells: Sequence[str], table: str) -> tuple[int, int]:
    """How well cells would do as the header of a table: required columns met, and all met."""
    found = {c.name for cell in cells if (c := meant(cell, table)) is not None}
    needed = {c.name for c in columns_of(table) if c.required}
    if table == "result":
        needed.add("value")
    if table == "reading" and found & {"elapsed_s", "measured_at"}:
        needed |= found & {"elapsed_s", "measured_at"}
    return len(found & needed), len(found)
