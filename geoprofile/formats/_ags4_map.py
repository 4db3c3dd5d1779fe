"""AGS4 (edition 4.1.1, Association of Geotechnical and Geoenvironmental Specialists): what goes
where.

One table serves writing and reading. Headings are those of the standard's dictionary, and, where it
has none, headings and groups that the file itself defines in its group DICT, as the standard
provides (rules 9 and 18).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

EDITION = "4.1.1"
DAY, MOMENT = "yyyy-mm-dd", "yyyy-mm-ddThh:mm:ss"
# unit of the standard -> suffix of a header that intake knows
UNITS = {
    "m": "m", "mm": "mm", "l/s": "l_s", "l/min": "l_min", "kPa": "kpa", "bar": "bar",
    "DegC": "c", "s": "s", "min": "min", "deg": "deg", "m/s": "m_per_s", "l": "l", "d": "d",
    "1/Pa": "per_pa",
}  # fmt: skip
UNIT_WORDS = {
    "m": "metre", "mm": "millimetre", "l/min": "litres per minute", "kPa": "kilopascal",
    "DegC": "degree Celsius", "s": "second", "min": "minute", "deg": "degree of angle",
    "m/s": "metres per second", "l": "litre", "d": "day", "1/Pa": "per pascal",
    DAY: "year month day", MOMENT: "year month day hours minutes seconds",
}  # fmt: skip
TYPE_WORDS = {
    "ID": "Unique identifier", "X": "Text", "XN": "Text or number", "PA": "Abbreviation",
    "PT": "Data type", "PU": "Unit", "DT": "Date and time", "U": "Number of any form",
    "YN": "Yes or no", "0DP": "Number without decimals", "4SCI": "Number with exponent",
}  # fmt: skip


@dataclass(frozen=True)
class Head:
    """A heading: which column it holds, and how; `ours` is defined by the file itself.

    `kind` is the data type of the standard; "DP" is given as many decimals as the numbers have.
    `codes` are the words of the column by the codes of the standard. A heading without column is
    filled while writing and not read. `is_key` is said of headings that the file defines.
    """

    name: str
    column: str = ""
    kind: str = "X"
    unit: str = ""
    codes: Mapping[str, str] = field(default_factory=dict)
    fixed: str = ""
    ours: str = ""
    is_key: bool = False


@dataclass(frozen=True)
class Group:
    """A group: the table whose rows it holds, or those rows of it whose `kind` is among `kinds`.

    A group that the file itself defines has a `parent` and says what it is; one of the same name
    that says anything else is somebody else's, and not read.
    """

    name: str
    table: str
    heads: tuple[Head, ...]
    kinds: tuple[str, ...] = ()
    parent: str = ""
    says: str = ""


HOLE = Head("LOCA_ID", "borehole", "ID")
TEST_KEY = (
    HOLE,
    Head("FGHG_TOP", "", "DP", "m"),
    Head("FGHG_BASE", "", "DP", "m"),
    Head("FGHG_TESN", "test"),
)
KINDS = {
    "FALLING HEAD": "falling head",
    "RISING HEAD": "rising head",
    "WATER PRESSURE": "constant head",
    "PRESSURE PULSE": "pressure pulse",
}
READ_KINDS = {
    "CONSTANT HEAD": "constant head",
    "CONSTANT HEAD (POSITIVE)": "constant head",
    "CONSTANT HEAD (NEGATIVE)": "constant head",
}
MEDIA = {"EW": "water", "G": "soil gas"}
YES = {"Y": "true", "N": "false"}

OFFSET = "Offset from UTC at which the time was written:"
PROJECT = Head("PROJ_ID", "", "ID", fixed="project", ours="Project identifier", is_key=True)
STAGE_KEY = (
    *(replace(h, ours="Key of the test", is_key=True) for h in TEST_KEY),
    Head("FGHS_STG", "step", "0DP", ours="Number of the pressure step", is_key=True),
)
# groups that the standard has no place for, defined by the file
OWN = (
    Group(
        "CALI", "caliper",
        (
            replace(HOLE, ours="Location identifier", is_key=True),
            Head("CALI_DPTH", "depth_m", "DP", "m", ours="Depth of the reading", is_key=True),
            Head("CALI_DIAM", "diameter_mm", "U", "mm", ours="Diameter of the hole"),
            Head("CALI_REM", "remarks", ours="Remarks"),
        ),
        parent="LOCA", says="Caliper log: diameter of the hole as measured",
    ),
    Group(
        "PACK", "packer",
        (
            PROJECT, Head("PACK_ID", "packer", ours="Packer", is_key=True),
            Head("PACK_DIAM", "deflated_diameter_mm", "U", "mm", ours="Diameter when deflated"),
            Head("PACK_HMIN", "min_hole_mm", "U", "mm", ours="Least diameter of hole"),
            Head("PACK_HMAX", "max_hole_mm", "U", "mm", ours="Largest diameter of hole"),
            Head("PACK_LENG", "element_length_m", "U", "m", ours="Length of the element"),
            Head("PACK_SEAT", "seating_pressure_kpa", "U", "kPa", ours="Pressure to expand"),
            Head("PACK_PMAX", "max_inflation_kpa", "U", "kPa", ours="Largest inflation pressure"),
            Head("PACK_LINE", "line_rating_kpa", "U", "kPa", ours="Rating of the inflation line"),
            Head("PACK_DMAX", "max_depth_m", "U", "m", ours="Largest depth"),
            Head("PACK_SMAX", "max_submergence_m", "U", "m", ours="Largest depth below water"),
            Head("PACK_PIPE", "pipe_inner_diameter_mm", "U", "mm", ours="Inside of the pipe"),
            Head("PACK_MEDM", "gas_or_water", ours="Inflated with gas or with water"),
        ),
        parent="PROJ", says="Packers at hand, with the maker's limits",
    ),
    Group(
        "SPCR", "spacer",
        (
            PROJECT, Head("SPCR_ID", "spacer", ours="Spacer", is_key=True),
            Head("SPCR_LENG", "open_length_m", "U", "m", ours="Open length between packers"),
        ),
        parent="PROJ", says="Spacers between packers",
    ),
    Group(
        "PLSS", "pipe_loss",
        (
            PROJECT, Head("PACK_ID", "packer", ours="Packer whose string it is", is_key=True),
            Head("PLSS_FLOW", "flow_l_min", "U", "l/min", ours="Flow", is_key=True),
            Head("PLSS_LOSS", "loss_kpa", "U", "kPa", ours="Loss of pressure at that flow"),
            Head("PLSS_LENG", "length_m", "U", "m", ours="Length of the string laid out"),
        ),
        parent="PACK", says="Loss of pressure in the pipe, as measured at surface",
    ),
    Group(
        "STFL", "step_flow",
        (
            *STAGE_KEY,
            Head("STFL_ELAP", "elapsed_s", "U", "s", ours="Time since the pressure step began",
                 is_key=True),
            Head("STFL_FLOW", "flow_l_min", "U", "l/min", ours="Flow at that time"),
        ),
        parent="FGHS", says="Course of the flow within a pressure step",
    ),
    Group(
        "CRIT", "criterion",
        (
            PROJECT, Head("CRIT_NAME", "analyte", ours="Analyte", is_key=True),
            Head("CRIT_MEDM", "medium", ours="Water or soil gas", is_key=True),
            Head("CRIT_VAL", "value", "U", ours="Value compared with"),
            Head("CRIT_UNIT", "unit", ours="Unit of that value"),
            Head("CRIT_BASI", "basis", ours="Where the value comes from"),
        ),
        parent="PROJ", says="Criteria that the user compares results with",
    ),
    Group(
        "AREA", "area",
        (
            PROJECT, Head("AREA_NAME", "name", ours="Name", is_key=True),
            Head("AREA_KIND", "kind", ours="Site, source or no drilling"),
            Head("AREA_WKT", "wkt", ours="Outline as well-known text, coordinates of the project"),
        ),
        parent="PROJ", says="Areas on the map",
    ),
    Group(
        "SECL", "section_line",
        (
            PROJECT, Head("SECL_NAME", "name", ours="Name", is_key=True),
            Head("SECL_WKT", "wkt", ours="Line as well-known text, coordinates of the project"),
        ),
        parent="PROJ", says="Lines of sections on the map",
    ),
)  # fmt: skip
GROUPS = (
    Group(
        "LOCA", "borehole",
        (
            HOLE, Head("LOCA_NATE", "x", "DP", "m"), Head("LOCA_NATN", "y", "DP", "m"),
            Head("LOCA_GL", "ground_elevation_m", "DP", "m"), Head("LOCA_REM", "remarks"),
            Head("LOCA_FDEP", "depth_m", "DP", "m"), Head("LOCA_ENDD", "drilled_on", "DT", DAY),
            Head("LOCA_NATD", "", fixed="datum"),
            Head("LOCA_MPHT", "measuring_point_height_m", "DP", "m",
                 ours="Height of the measuring point above ground"),
        ),
    ),
    Group(
        "HORN", "survey",
        (
            Head("LOCA_ID", "borehole", "ID"), Head("HORN_TOP", "depth_m", "DP", "m"),
            Head("HORN_BASE", "", "DP", "m"), Head("HORN_ORNT", "azimuth_deg", "DP", "deg"),
            Head("HORN_INCL", "inclination_deg", "DP", "deg"),
        ),
    ),
    Group(
        "HDIA", "construction",
        (
            HOLE, Head("HDIA_DPTH", "bottom_m", "DP", "m"),
            Head("HDIA_DIAM", "diameter_mm", "DP", "mm"), Head("HDIA_REM", "remarks"),
            Head("HDIA_TOP", "top_m", "DP", "m", ours="Depth from which the diameter holds"),
        ),
        ("open hole",),
    ),
    Group(
        "CDIA", "construction",
        (
            HOLE, Head("CDIA_DPTH", "bottom_m", "DP", "m"),
            Head("CDIA_DIAM", "diameter_mm", "DP", "mm"), Head("CDIA_REM", "remarks"),
            Head("CDIA_TOP", "top_m", "DP", "m", ours="Depth from which the casing runs"),
        ),
        ("casing",),
    ),
    Group(
        "PIPE", "construction",
        (
            HOLE, Head("PIPE_REF", fixed="pipe"), Head("PIPE_TOP", "top_m", "DP", "m"),
            Head("PIPE_BASE", "bottom_m", "DP", "m"), Head("PIPE_DIAM", "diameter_mm", "DP", "mm"),
            Head("PIPE_TYPE", "kind", "PA", codes={"PLAIN": "riser", "SLOTTED": "screen"}),
            Head("PIPE_REM", "remarks"),
        ),
        ("riser", "screen"),
    ),
    Group(
        "BKFL", "construction",
        (
            HOLE, Head("BKFL_TOP", "top_m", "DP", "m"), Head("BKFL_BASE", "bottom_m", "DP", "m"),
            Head("BKFL_LEG", "kind", "PA", codes={"903": "seal", "901": "filter pack"}),
            Head("BKFL_REM", "remarks"),
            Head("BKFL_DIAM", "diameter_mm", "DP", "mm", ours="Drilled diameter"),
            Head("BKFL_PORO", "porosity", "U", ours="Drainable porosity of a filter pack"),
        ),
        ("seal", "filter pack"),
    ),
    Group(
        "GEOL", "lithology",
        (
            HOLE, Head("GEOL_TOP", "top_m", "DP", "m"), Head("GEOL_BASE", "bottom_m", "DP", "m"),
            Head("GEOL_DESC", "description"), Head("GEOL_FORM", "unit"),
        ),
    ),
    Group(
        "MONG", "interval",
        (
            HOLE, Head("MONG_ID", "interval"), Head("MONG_DIS", "", "DP", "m"),
            Head("MONG_TRZ", "top_m", "DP", "m"), Head("MONG_BRZ", "bottom_m", "DP", "m"),
            Head("MONG_REM", "remarks"),
            Head("MONG_ISOL", "isolation", ours="How the zone is isolated"),
            Head("MONG_INFL", "inflation_kpa", "U", "kPa", ours="Inflation pressure of packers"),
            Head("MONG_SETA", "set_at", "DT", MOMENT, ours="Time at which packers were set, UTC"),
            Head("MONG_SETO", "set_at_offset", ours=f"{OFFSET} MONG_SETA"),
            Head("MONG_PACK", "packer", ours="Packer used, as in PACK_ID"),
            Head("MONG_STAT", "static_depth_m", "U", "m", ours="Depth to the static water level"),
            Head("MONG_STIS", "static_depth_is", ours="How that depth was measured"),
            Head("MONG_DEVL", "development", ours="How well the wall of the zone was cleaned"),
        ),
    ),
    Group(
        "MOND", "water_level",
        (
            HOLE, Head("MONG_ID", "interval"), Head("MONG_DIS", "", "DP", "m"),
            Head("MOND_DTIM", "measured_at", "DT", MOMENT),
            Head("MOND_TYPE", "", "PA", codes={"WDEP": "depth to water"}, fixed="WDEP"),
            Head("MOND_REF", ""), Head("MOND_RDNG", "depth_to_water_m", "XN"),
            Head("MOND_UNIT", "", "PU", fixed="m"),
            Head("MOND_ALNG", "depth_is", ours="Whether the depth is along the hole or vertical"),
            Head("MOND_DTIO", "measured_at_offset", ours=f"{OFFSET} MOND_DTIM"),
        ),
    ),
    Group(
        "FGHG", "test",
        (
            *TEST_KEY, Head("FGHG_SDIA", "riser_diameter_mm", "U", "mm"),
            Head("FGHG_DATE", "started_at", "DT", MOMENT),
            Head("FGHG_TYPE", "kind", "PA", codes=KINDS),
            Head("FGHG_IPRM", "", "4SCI", "m/s", fixed="k"),
            Head("FGHG_ILUG", "", "XN", fixed="lu"),
            Head("FGHG_REM", "remarks"),
            Head("FGHG_ZONE", "interval", ours="Zone tested, as in MONG_ID"),
            Head("FGHG_RODM", "riser_outer_diameter_mm", "U", "mm", ours="Outside of the riser"),
            Head("FGHG_TUBE", "tube_diameters_mm", ours="Outside of tubes in the riser, mm"),
            Head("FGHG_EXPD", "expected_displacement_m", "U", "m", ours="Nominal displacement"),
            Head("FGHG_WTMP", "water_temperature_c", "U", "DegC", ours="Temperature in the zone"),
            Head("FGHG_COMP", "system_compressibility_per_pa", "U", "1/Pa",
                 ours="Compressibility of the shut-in system"),
            Head("FGHG_SVOL", "shut_in_volume_l", "U", "l", ours="Volume of the shut-in water"),
            Head("FGHG_INJL", "timed_injection_l", "U", "l", ours="Water of a timed injection"),
            Head("FGHG_INJP", "timed_injection_rise_kpa", "U", "kPa", ours="Rise that it made"),
            Head("FGHG_MFLO", "meter_floor_l_min", "U", "l/min", ours="Least flow of the meter"),
            Head("FGHG_BLKL", "blank_leak_l_min", "U", "l/min", ours="Leak in blank casing"),
            Head("FGHG_BLKP", "blank_leak_at_kpa", "U", "kPa", ours="Pressure of that leak"),
            Head("FGHG_KVKH", "kv_kh", "U", ours="Vertical over horizontal conductivity"),
            Head("FGHG_AQTP", "aquifer_top_m", "U", "m", ours="Top of the aquifer"),
            Head("FGHG_AQTH", "aquifer_thickness_m", "U", "m", ours="Thickness of the aquifer"),
            Head("FGHG_AQUI", "aquifer", ours="Confined or unconfined"),
            Head("FGHG_MTHD", "method", ours="Method fixed by the user"),
            Head("FGHG_WHIG", "window_high", "U", ours="Upper end of a fixed fit window"),
            Head("FGHG_WLOW", "window_low", "U", ours="Lower end of a fixed fit window"),
            Head("FGHG_STRT", "start_s", "U", "s", ours="Start of the response"),
            Head("FGHG_STTS", "status", ours="Whether the test is used"),
            Head("FGHG_DATO", "started_at_offset", ours=f"{OFFSET} FGHG_DATE"),
        ),
    ),
    Group("FGHI", "", (*TEST_KEY, Head("FGHI_INST", fixed="1"))),
    Group(
        "FGHS", "pressure_step",
        (
            *TEST_KEY, Head("FGHS_STG", "step", "0DP"), Head("FGHS_HEAD", "zone_head_m", "U", "m"),
            Head("FGHS_FLOW", "flow_l_min", "U", "l/min"),
            Head("FGHS_GAUG", "gauge_pressure_kpa", "U", "kPa", ours="Gauge pressure"),
            Head("FGHS_GHGT", "gauge_height_m", "U", "m", ours="Height of the gauge above ground"),
            Head("FGHS_DURM", "minutes", "U", "min", ours="Duration of the pressure step"),
            Head("FGHS_OUTH", "outside_head_m", "U", "m", ours="Rise of head outside the zone"),
        ),
    ),
    Group(
        "FGHT", "reading",
        (
            *TEST_KEY, Head("FGHI_INST", fixed="1"), Head("FGHT_TIME", "", "DT", MOMENT),
            Head("FGHT_TYPE", "", "PA", codes={"DISPL": "Displacement from the static level"},
                 fixed="DISPL"),
            Head("FGHT_RDNG", "displacement_m", "U", "m"),
            Head("FGHT_UNIT", "", "PU", fixed="m"),
            Head("FGHT_NUMB", "number", "0DP", ours="Number of the reading", is_key=True),
            Head("FGHT_ELAP", "elapsed_s", "U", "s", ours="Time since the start of the test"),
            Head("FGHT_OUTS", "outside_displacement_m", "U", "m",
                 ours="Displacement outside the zone"),
        ),
    ),
    Group(
        "SAMP", "sample",
        (
            HOLE, Head("SAMP_TOP", "", "DP", "m"), Head("SAMP_REF", "sample"),
            Head("SAMP_TYPE", "medium", "PA", codes=MEDIA), Head("SAMP_ID", "", "ID"),
            Head("SAMP_BASE", "", "DP", "m"), Head("SAMP_DTIM", "sampled_at", "DT", MOMENT),
            Head("SAMP_REM", "remarks"),
            Head("SAMP_ZONE", "interval", ours="Zone sampled, as in MONG_ID"),
            Head("SAMP_RND", "round", ours="Sampling round"),
            Head("SAMP_KIND", "kind", ours="Primary sample, duplicate or blank"),
            Head("SAMP_BLNK", "blank_type", ours="What a blank controls"),
            Head("SAMP_PURG", "purged_l", "U", "l", ours="Volume purged"),
            Head("SAMP_DTIO", "sampled_at_offset", ours=f"{OFFSET} SAMP_DTIM"),
        ),
    ),
    Group(
        "ERES", "result",
        (
            HOLE, Head("SAMP_TOP", "", "DP", "m"), Head("SAMP_REF", "sample"),
            Head("SAMP_TYPE", "", "PA", codes=MEDIA), Head("SAMP_ID", "", "ID"),
            Head("SPEC_REF", ""), Head("SPEC_DPTH", "", "DP", "m"),
            Head("ERES_CODE", "", "PA", fixed="code"), Head("ERES_METH", ""),
            Head("ERES_MATX", "", "PA", codes={"LIQUID": "water", "GAS": "soil gas"}),
            Head("ERES_RTYP", "", "PA", codes={"INITIAL": "first analysis"}, fixed="INITIAL"),
            Head("ERES_NAME", "analyte"), Head("ERES_RVAL", "value", "U"),
            Head("ERES_RUNI", "unit", "PU"), Head("ERES_DETF", "detected", "YN", codes=YES),
            Head("ERES_LQLF", "qualifier"), Head("ERES_RDLM", "limit", "U"),
            Head("ERES_RDAT", "reported_on", "DT", DAY), Head("ERES_SGRP", "report"),
            Head("ERES_DTIM", "analysed_at", "DT", MOMENT),
            Head("ERES_CAS", "cas", ours="CAS registry number"),
            Head("ERES_HOLD", "holding_limit_d", "U", "d", ours="Longest time to analysis"),
            Head("ERES_DTIO", "analysed_at_offset", ours=f"{OFFSET} ERES_DTIM"),
        ),
    ),
    *OWN,
)  # fmt: skip
BY_NAME = {g.name: g for g in GROUPS}
