"""Vertical sections as layers: bands, intervals, holes, plume edges and surfaces in the plane."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.drawing.levels import EXTENT_PROBABILITIES, Bandwidth
from geoprofile.engine.rows import finding, frame
from geoprofile.errors import DataError
from geoprofile.geometry.contours import above, polygons
from geoprofile.geometry.walls import upright
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.maps.mapping import (
    PROBABILITY_BANDWIDTH,
    Array,
    MappedField,
    band_rows,
    bandwidth_of,
    latest_fields,
)
from geoprofile.products.maps.measured import results_of
from geoprofile.products.section.exaggeration import sheet_exaggeration, stretched
from geoprofile.products.section.gas_slices import slice_gas, too_few
from geoprofile.products.section.lines import line_names, sheet_starts
from geoprofile.products.section.logs import contacts_of
from geoprofile.products.section.sections import Section, section_of
from geoprofile.products.section.slices import Slice, slice_field
from geoprofile.products.soil_gas.fitted import fitted_gas
from geoprofile.schema.soil_gas import GAS_UNIT

if TYPE_CHECKING:
    import pandas as pd
    from shapely import MultiPolygon

    from geoprofile.products.soil_gas.fitted import FittedGas
    from geoprofile.site import Site

ON_SHEET = (
    "section_band",
    "section_interval",
    "section_hole",
    "section_plume",
    "section_assumed",
    "section_surface",
)
WRITES = (
    "section_trace",
    *ON_SHEET,
    *(f"{name}_exaggerated" for name in ON_SHEET),
    "section_wall",
)
Rows = dict[str, list[dict[str, Any]]]


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Every section line of the site with every quantity in its latest round.

    Returns
    -------
    Mapping
        The tables `section_*`, in the plane of the sheet [m], their twins on a sheet stretched
        upwards, and the bands of the median as walls on the map; findings on lines that make no
        section.

    Notes
    -----
    Bands of K lie between the ground and a surface through the ends of the holes, inside the site
    area; those of concentrations begin at the water level. Those of soil gas, a quantity of its
    own, end there and reach neither higher nor deeper than its samples. They are marked uncertain
    where the standard deviation of log10 exceeds `uncertain_sd`.
    """
    sections, findings = _sections(site, float(settings["band_width_m"]))
    starts = sheet_starts(site)
    rows: Rows = {name: [] for name in WRITES}
    fields, gases = latest_fields(site), fitted_gas(site)
    slices = {s.name: _slices(site, s, fields, gases) for s in sections}
    widths = {f.quantity: bandwidth_of(site, f.quantity) for f in fields}
    widths |= {g.quantity: g.scale("median") for g in gases}
    findings += [note for s in sections for g in gases if (note := too_few(s, g)) is not None]
    for k, section in enumerate(sections):
        start = starts[section.name]
        _outline(rows, site, section, start)
        rows["section_interval"] += _intervals(site, section, start, gases)
        for one in slices[section.name]:
            _bands(rows, section, one, width=widths[one.quantity], start=start, settings=settings)
        progress(k + 1, len(sections))
    factor = float(settings["exaggeration"]) or sheet_exaggeration(sections)
    for name in ON_SHEET:
        rows[f"{name}_exaggerated"] = [_stretched(row, factor) for row in rows[name]]
    tables = {name: frame(name, rows[name], site.crs) for name in WRITES}
    return {**tables, "finding": frame("finding", findings, site.crs)}


def _sections(site: Site, band_width_m: float) -> tuple[list[Section], list[dict[str, str]]]:
    """The sections that can be made, and why the others cannot."""
    sections, findings = [], []
    for name in line_names(site):
        try:
            section = section_of(site, name, band_width_m=band_width_m)
        except DataError as error:
            fault = error.problem
            what = f"no section: found {fault.found}, expected {fault.expected}"
            findings.append(finding("section_line", name, what, what_to_do=fault.advice))
            continue
        sections.append(section)
        findings += [
            finding(
                "section_line",
                name,
                note,
                what_to_do="Move the line, or leave it.",
                severity="note",
            )
            for note in section.notes
        ]
    return sections, findings


def _slices(
    site: Site, section: Section, fields: list[MappedField], gases: list[FittedGas]
) -> list[Slice]:
    """Every field in one section; none where the section has no domain."""
    cut = [slice_field(section, field) for field in fields]
    cut += [slice_gas(site, section, gas) for gas in gases]
    return [one for one in cut if one is not None]


def _outline(rows: Rows, site: Site, section: Section, start: float) -> None:
    """Trace on the map, holes and surfaces."""
    import shapely

    rows["section_trace"].append(
        {
            "section": section.name,
            "length_m": section.plane.length_m,
            "sheet_start_m": start,
            "band_width_m": section.band_width_m,
            "geometry": shapely.LineString(section.plane.xy),
        }
    )
    for hole in section.holes:
        rows["section_hole"].append(
            {
                "section": section.name,
                "borehole": hole.borehole,
                "projection_distance_m": hole.projection_m,
                "geometry": shapely.LineString(np.add(hole.line, (start, 0.0))),
            }
        )
    for row in _surface_rows(site, section):
        shape = shapely.LineString(np.add(row.pop("line"), (start, 0.0)))
        rows["section_surface"].append({"section": section.name, **row, "geometry": shape})


def _surface_rows(site: Site, section: Section) -> list[dict[str, Any]]:
    """Ground, water level and tops of units with their lines in the plane."""
    rows: list[dict[str, Any]] = [
        {"surface": "ground", "notes": "through the collars", "line": section.ground}
    ]
    if section.water is not None:
        notes = section.water_notes or None
        rows.append({"surface": "water level", "notes": notes, "line": section.water})
    for contact in contacts_of(site, section):
        named = {"surface": "top of unit", "hydro_unit": contact.unit}
        rows.append({**named, "notes": "between the logs of the boreholes", "line": contact.line})
    return rows


def _intervals(
    site: Site, section: Section, start: float, gases: list[FittedGas]
) -> list[dict[str, Any]]:
    """Results of every interval that the section shows."""
    import shapely

    shown = {one.interval: one for one in section.intervals}
    rows = []
    results = [*results_of(site), *(r for g in gases for r in results_of(site, g.quantity))]
    for row in results:
        one = shown.get(row["interval"])
        if one is not None:
            place = {
                "section": section.name,
                "projection_distance_m": one.projection_m,
                "geometry": shapely.LineString(np.add(one.line, (start, 0.0))),
            }
            rows.append({**row, **place})
    return rows


def _bands(
    rows: Rows,
    section: Section,
    one: Slice,
    *,
    width: Bandwidth,
    start: float,
    settings: Mapping[str, Any],
) -> None:
    """Bands and plume edges of one field."""
    names = {"section": section.name, "round": one.round}
    good = one.supported(float(settings["uncertain_sd"]))
    parts = {"supported": good, "uncertain": polygons(one.shown.difference(good))}
    shown = [(width, one.median)]
    if one.probability is not None:
        shown.append((PROBABILITY_BANDWIDTH, one.probability))
    if one.probability is not None and one.unit != GAS_UNIT:  # a plume is one of water
        rows["section_plume"] += [
            {**names, **row} for row in _edges(section, one, one.probability, start)
        ]
    assumed = one.of_assumed_shape()
    if not assumed.is_empty:
        named = {**names, "quantity": one.quantity, "area_m2": assumed.area}
        rows["section_assumed"].append({**named, "geometry": _moved(assumed, start)})
    for bandwidth, values in shown:
        for certainty, part in parts.items():
            named = {**names, "quantity": one.quantity, "certainty": certainty}
            for row in band_rows(one.s, one.z, values, width=bandwidth, domain=part):
                shape: Any = row["geometry"]
                rows["section_band"].append({**row, **named, "geometry": _moved(shape, start)})
                if bandwidth is width:
                    wall = upright(shape, section.plane)
                    rows["section_wall"].append({**row, **named, "geometry": wall})


def _edges(section: Section, one: Slice, probability: Array, start: float) -> list[dict[str, Any]]:
    """Nested extents of the plume in the plane; empty ones make no row."""
    found = []
    for level in EXTENT_PROBABILITIES:
        shape = above(one.s, one.z, probability, level, section.wet)
        if shape.is_empty:
            continue
        found.append(
            {
                "analyte": one.quantity,
                "criterion_ug_per_l": one.criterion,
                "probability": level,
                "area_m2": shape.area,
                "geometry": _moved(shape, start),
            }
        )
    return found


def _stretched(row: dict[str, Any], factor: float) -> dict[str, Any]:
    """The same row on the exaggerated sheet."""
    return {**row, "exaggeration": factor, "geometry": stretched(row["geometry"], factor)}


def _moved(shape: Any, start: float) -> MultiPolygon:
    """A shape at its place on the sheet."""
    from shapely.affinity import translate

    return polygons(translate(shape, xoff=start))


PLUGIN = Layer(
    name="section",
    summary="vertical sections along the section lines, in distance and elevation",
    reads=(
        "section_line",
        "model",
        "borehole",
        "survey",
        "interval",
        "interval_conductivity",
        "concentration",
        "criterion",
        "head",
        "area",
        "hydro_unit",
        "soil_gas_band",
    ),
    writes=WRITES,
    compute=compute,
    settings=(
        Setting(
            "band_width_m",
            0.0,
            "m",
            "Boreholes nearer than this are projected; 0: 6 % of the extent of the boreholes",
            low=0,
        ),
        Setting(
            "uncertain_sd",
            0.5,
            "1",
            "Standard deviation of log10 above which a field is marked uncertain",
            low=0,
        ),
        Setting(
            "exaggeration",
            0.0,
            "1",
            "Vertical exaggeration of the second sheet; 0: a round factor at which the longest "
            "section is at most half as high as it is long",
            low=0,
            high=100,
        ),
    ),
)
