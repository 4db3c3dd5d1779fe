"""The input tables: what the user loads, or draws and edits in the GIS."""

from __future__ import annotations

from geoprofile.schema.table import OFFSET, Column, Table

HOLE = Column("borehole", "text", "", "Borehole or well", required=True, references="borehole")
TOP = Column("top_m", "real", "m", "Top, depth along the hole from ground", required=True, low=0)
BOTTOM = Column(
    "bottom_m", "real", "m", "Bottom, depth along the hole from ground", required=True, above=0
)
DEPTH_ALONG, DEPTH_VERTICAL = "along the hole", "vertical"
DEPTH_WAYS = (DEPTH_ALONG, DEPTH_VERTICAL)
REMARKS = Column("remarks", "text", "", "Anything worth knowing")


def _offset(time: str) -> Column:
    """The column beside a time, which is kept in UTC."""
    meaning = f"Offset from UTC at which {time} was written, such as +02:00; filled at intake"
    return Column(time + OFFSET, "text", "", meaning)


def as_key(column: Column) -> Column:
    """The same column as part of the key."""
    return Column(**{**column.__dict__, "key": True})


BOREHOLE = Table(
    "borehole",
    "Boreholes",
    "Boreholes and wells at their collar; elevation is up from the site's vertical datum",
    "input",
    (
        Column("borehole", "text", "", "Name of the borehole or well", required=True, key=True),
        Column("x", "real", "m", "Easting of the collar in the site CRS", required=True),
        Column("y", "real", "m", "Northing of the collar in the site CRS", required=True),
        Column(
            "ground_elevation_m",
            "real",
            "m",
            "Ground level at the collar, up from the vertical datum",
            required=True,
            low=-500,
            high=9000,
        ),
        Column(
            "measuring_point_height_m",
            "real",
            "m",
            "Height of the measuring point above ground",
            low=-5,
            high=10,
            default=0.0,
        ),
        Column("depth_m", "real", "m", "Depth of the hole along its path", required=True, above=0),
        Column("drilled_on", "date", "", "Day on which drilling ended"),
        REMARKS,
    ),
    geometry="PointZ",
)

SURVEY = Table(
    "survey",
    "Borehole surveys",
    "Direction of the hole at stations along it; a hole without stations counts as vertical",
    "input",
    (
        as_key(HOLE),
        Column("depth_m", "real", "m", "Depth of the station along the hole", True, True, low=0),
        Column(
            "inclination_deg",
            "real",
            "deg",
            "Inclination from vertical, 0 is straight down",
            required=True,
            low=0,
            high=90,
        ),
        Column(
            "azimuth_deg",
            "real",
            "deg",
            "Azimuth of the hole from grid north, clockwise",
            required=True,
            low=0,
            high=360,
        ),
    ),
    batch="borehole",
)

CONSTRUCTION = Table(
    "construction",
    "Construction",
    "Casing, screens, seals and open hole along each borehole",
    "input",
    (
        as_key(HOLE),
        as_key(TOP),
        BOTTOM,
        Column(
            "kind",
            "text",
            "",
            "What is there",
            required=True,
            key=True,
            allowed=("casing", "riser", "screen", "open hole", "seal", "filter pack"),
        ),
        Column(
            "diameter_mm",
            "real",
            "mm",
            "Inside diameter; the drilled diameter for open hole, seal and filter pack",
            required=True,
            key=True,
            above=0,
            high=5000,
        ),
        Column(
            "porosity",
            "real",
            "1",
            "Drainable porosity of a filter pack; needed where the water level lies in the pack",
            above=0,
            high=0.6,
        ),
        REMARKS,
    ),
    batch="borehole",
)

LITHOLOGY = Table(
    "lithology",
    "Lithology",
    "Geological units met along each borehole",
    "input",
    (
        as_key(HOLE),
        as_key(TOP),
        BOTTOM,
        Column("unit", "text", "", "Hydrostratigraphic or geological unit", required=True),
        Column("description", "text", "", "Description of the material"),
    ),
    batch="borehole",
)

CALIPER = Table(
    "caliper",
    "Caliper log",
    "Measured diameter along each borehole, so that no packer sits where the wall has broken out",
    "input",
    (
        as_key(HOLE),
        Column("depth_m", "real", "m", "Depth along the hole from ground", True, True, low=0),
        Column("diameter_mm", "real", "mm", "Diameter measured", True, above=0, high=5000),
        REMARKS,
    ),
    batch="borehole",
)

PACKER = Table(
    "packer",
    "Packers",
    "Inflatable packers on hand, with the limits stated by their maker",
    "input",
    (
        Column("packer", "text", "", "Name of the packer", required=True, key=True),
        Column("deflated_diameter_mm", "real", "mm", "Diameter when deflated", True, above=0),
        Column("min_hole_mm", "real", "mm", "Smallest hole diameter allowed", True, above=0),
        Column("max_hole_mm", "real", "mm", "Largest hole diameter allowed", True, above=0),
        Column(
            "element_length_m", "real", "m", "Length of the sealing packer element", True, above=0
        ),
        Column(
            "seating_pressure_kpa",
            "real",
            "kPa",
            "Gauge pressure that expands the packer element to the wall",
            required=True,
            low=0,
        ),
        Column(
            "max_inflation_kpa",
            "real",
            "kPa",
            "Largest gauge inflation pressure stated by the maker",
            required=True,
            above=0,
        ),
        Column(
            "line_rating_kpa",
            "real",
            "kPa",
            "Lowest rating of hose, fittings and gauge of the inflation line",
            above=0,
        ),
        Column("max_depth_m", "real", "m", "Largest deployment depth", above=0),
        Column("max_submergence_m", "real", "m", "Largest depth below water", above=0),
        Column("pipe_inner_diameter_mm", "real", "mm", "Inside diameter of its pipe", above=0),
        Column(
            "gas_or_water", "text", "", "What fills the inflation line", allowed=("gas", "water")
        ),
    ),
)

SPACER = Table(
    "spacer",
    "Test interval lengths",
    "Lengths on hand for the open interval between two packers",
    "input",
    (
        Column("spacer", "text", "", "Name of the open length", required=True, key=True),
        Column("open_length_m", "real", "m", "Length of the isolated interval", True, above=0),
    ),
)

INTERVAL = Table(
    "interval",
    "Intervals",
    "Isolated zones of the boreholes, between the packer elements",
    "input",
    (
        Column("interval", "text", "", "Name of the interval", required=True, key=True),
        HOLE,
        TOP,
        BOTTOM,
        Column(
            "isolation",
            "text",
            "",
            "How the interval is isolated",
            required=True,
            allowed=("straddle", "below packer", "above packer", "screen", "open hole"),
        ),
        Column("packer", "text", "", "Packer used", references="packer"),
        Column("inflation_kpa", "real", "kPa", "Gauge pressure of inflation", low=0, high=100000),
        Column("set_at", "datetime", "", "Time at which the packers were set"),
        _offset("set_at"),
        Column(
            "static_depth_m",
            "real",
            "m",
            "Depth from ground to the static water level of the isolated zone, vertical where "
            "static_depth_is does not say otherwise",
            low=-200,
            high=2000,
        ),
        Column(
            "development",
            "text",
            "",
            "How well the wall of the zone was cleaned before the tests: thorough until clear and "
            "steady, some, or none; narrows what is thought of a skin",
            allowed=("thorough", "some", "none"),
        ),
        Column(
            "static_depth_is",
            "text",
            "",
            "How static_depth_m was measured; vertical when empty",
            allowed=DEPTH_WAYS,
        ),
        REMARKS,
    ),
)

TEST = Table(
    "test",
    "Hydraulic tests",
    "Hydraulic tests of single intervals; readings and pressure steps lie in their own tables",
    "input",
    (
        Column("test", "text", "", "Name of the test", required=True, key=True),
        Column("interval", "text", "", "Interval tested", required=True, references="interval"),
        Column(
            "kind",
            "text",
            "",
            "Kind of test",
            required=True,
            allowed=("falling head", "rising head", "constant head", "pressure pulse"),
        ),
        Column("started_at", "datetime", "", "Time at which the test began"),
        _offset("started_at"),
        Column(
            "riser_diameter_mm",
            "real",
            "mm",
            "Inside diameter of the pipe in which the water level moves",
            above=0,
            high=5000,
        ),
        Column(
            "riser_outer_diameter_mm",
            "real",
            "mm",
            "Outside diameter of the pipe in the hole, for the water balance outside the zone",
            above=0,
            high=5000,
        ),
        Column(
            "tube_diameters_mm",
            "text",
            "mm",
            "Outside diameters of tubes and cables in the riser, separated by spaces",
            many=True,
        ),
        Column("expected_displacement_m", "real", "m", "Nominal initial displacement"),
        Column(
            "water_temperature_c", "real", "degC", "Water temperature in the zone", low=-5, high=99
        ),
        Column(
            "system_compressibility_per_pa",
            "real",
            "1/Pa",
            "Measured compressibility of the shut-in system",
            above=0,
        ),
        Column("shut_in_volume_l", "real", "L", "Volume of the shut-in water", above=0),
        Column(
            "timed_injection_l",
            "real",
            "L",
            "Water pressed into the shut-in system in tight casing, to measure its compressibility",
            above=0,
        ),
        Column(
            "timed_injection_rise_kpa",
            "real",
            "kPa",
            "Rise of pressure that the timed injection made",
            above=0,
        ),
        Column(
            "meter_floor_l_min",
            "real",
            "L/min",
            "Least flow that the meter shows, from a test in blank casing",
            low=0,
        ),
        Column(
            "blank_leak_l_min",
            "real",
            "L/min",
            "Flow that packers and string lose in blank casing, taken off the flow of every step",
            low=0,
        ),
        Column(
            "blank_leak_at_kpa",
            "real",
            "kPa",
            "Net pressure of the test in blank casing, to which its loss is proportional",
            above=0,
        ),
        Column(
            "kv_kh",
            "real",
            "1",
            "Vertical over horizontal conductivity; empty: not known, a range is assumed",
            above=0,
            high=10,
        ),
        Column(
            "aquifer_top_m",
            "real",
            "m",
            "Vertical depth of the aquifer's top below ground; the static level when left out",
        ),
        Column("aquifer_thickness_m", "real", "m", "Thickness of the aquifer tested", above=0),
        Column(
            "aquifer",
            "text",
            "",
            "Whether the tested aquifer is confined or has a water table",
            allowed=("confined", "unconfined"),
        ),
        Column("method", "text", "", "Method that the user fixes; empty lets the program choose"),
        Column("window_high", "real", "1", "Upper end of a fixed fit window", above=0, high=1.5),
        Column("window_low", "real", "1", "Lower end of a fixed fit window", above=0, high=1),
        Column("start_s", "real", "s", "Start of the response, fixed by the user"),
        Column(
            "status",
            "text",
            "",
            "Whether the test is used",
            allowed=("use", "exclude"),
            default="use",
        ),
        REMARKS,
    ),
)

READING = Table(
    "reading",
    "Readings",
    "Logger readings of each test as displacement from the static level; of a constant-head test "
    "the fall of head after the flow was stopped",
    "input",
    (
        Column("test", "text", "", "Test", required=True, key=True, references="test"),
        Column(
            "number",
            "integer",
            "1",
            "Sequence number in the file, from 1; filled at intake, for a logger may repeat a time",
            key=True,
            low=1,
        ),
        Column("elapsed_s", "real", "s", "Time since the start of the test", required=True),
        Column(
            "displacement_m",
            "real",
            "m",
            "Water level above (+) or below (-) static",
            required=True,
        ),
        Column(
            "outside_displacement_m",
            "real",
            "m",
            "Head change outside the isolated zone, above (+) or below (-) static",
        ),
    ),
    batch="test",
)

PRESSURE_STEP = Table(
    "pressure_step",
    "Pressure steps",
    "Pressure and flow of each pressure step of a constant-head test",
    "input",
    (
        Column("test", "text", "", "Test", required=True, key=True, references="test"),
        Column("step", "integer", "1", "Number of the pressure step", True, True, low=1),
        Column(
            "gauge_pressure_kpa",
            "real",
            "kPa",
            "Gauge pressure; may be empty where zone_head_m was read",
            low=0,
        ),
        Column("gauge_height_m", "real", "m", "Height of the gauge above ground", default=0.0),
        Column("flow_l_min", "real", "L/min", "Flow into the zone", required=True, low=0),
        Column("minutes", "real", "min", "Duration of the pressure step", above=0),
        Column(
            "zone_head_m",
            "real",
            "m",
            "Head above static from a transducer in the zone; goes before gauge and pipe loss",
            above=0,
        ),
        Column("outside_head_m", "real", "m", "Rise of head outside the zone, above static"),
    ),
    batch="test",
)

STEP_FLOW = Table(
    "step_flow",
    "Flow within steps",
    "Flow against time within the pressure steps of a constant-head test",
    "input",
    (
        Column("test", "text", "", "Test", required=True, key=True, references="test"),
        Column("step", "integer", "1", "Number of the pressure step", True, True, low=1),
        Column(
            "elapsed_s", "real", "s", "Time since the step began", required=True, key=True, low=0
        ),
        Column("flow_l_min", "real", "L/min", "Flow into the zone", required=True, low=0),
    ),
    batch="test",
)

PIPE_LOSS = Table(
    "pipe_loss",
    "Pipe loss",
    "Head lost in the string of a packer at several flows, measured at surface",
    "input",
    (
        Column("packer", "text", "", "Packer and its string", True, True, references="packer"),
        Column("flow_l_min", "real", "L/min", "Flow", required=True, key=True, above=0),
        Column("loss_kpa", "real", "kPa", "Pressure lost along the string", True, low=0),
        Column("length_m", "real", "m", "Length of the string that was laid out", True, above=0),
    ),
    batch="packer",
)

WATER_LEVEL = Table(
    "water_level",
    "Water levels",
    "Depth to water in holes and in isolated intervals",
    "input",
    (
        as_key(HOLE),
        Column(
            "interval",
            "text",
            "",
            "Interval measured; empty for the open hole",
            references="interval",
            key=True,
        ),
        Column("measured_at", "datetime", "", "Time of measurement", True, True),
        _offset("measured_at"),
        Column(
            "depth_to_water_m",
            "real",
            "m",
            "Depth from ground to water, along the hole where depth_is does not say otherwise",
            required=True,
        ),
        Column(
            "depth_is",
            "text",
            "",
            "How depth_to_water_m was measured; along the hole when empty, as a tape lies",
            allowed=DEPTH_WAYS,
        ),
    ),
)

SAMPLE = Table(
    "sample",
    "Samples",
    "Water and soil-gas samples taken from intervals",
    "input",
    (
        Column("sample", "text", "", "Name of the sample", required=True, key=True),
        Column(
            "interval",
            "text",
            "",
            "Interval sampled; empty for a blank that belongs to none",
            references="interval",
        ),
        Column("sampled_at", "datetime", "", "Time of sampling", required=True),
        _offset("sampled_at"),
        Column("round", "text", "", "Sampling round that the sample belongs to"),
        Column(
            "kind",
            "text",
            "",
            "Primary sample, duplicate of one, or blank",
            allowed=("primary", "duplicate", "blank"),
            default="primary",
        ),
        Column(
            "blank_type",
            "text",
            "",
            "What a blank controls: transport, the air on site, or the equipment",
            allowed=("trip", "input", "equipment"),
        ),
        Column(
            "medium",
            "text",
            "",
            "What was sampled",
            allowed=("water", "soil gas"),
            default="water",
        ),
        Column("purged_l", "real", "L", "Volume purged before sampling", low=0),
        REMARKS,
    ),
)

_RESULT_COLUMNS = (
    Column("sample", "text", "", "Sample", required=True, key=True, references="sample"),
    Column("analyte", "text", "", "Substance", required=True, key=True),
    Column("cas", "text", "", "CAS registry number of the substance"),
    Column("value", "real", "", "Value found, in the unit given; empty if not detected", low=0),
    Column("unit", "text", "", "Unit of value and limit", required=True),
    Column("detected", "boolean", "", "Whether the substance was detected", required=True),
    Column("limit", "real", "", "Reporting or detection limit, in the unit given", above=0),
    Column("qualifier", "text", "", "The laboratory's qualifier"),
    Column("report", "text", "", "Number of the laboratory's report; a later one replaces it"),
    Column("reported_on", "date", "", "Day of the laboratory's report; a later one replaces it"),
    Column("analysed_at", "datetime", "", "Time of the analysis"),
    _offset("analysed_at"),
    Column("holding_limit_d", "real", "d", "Longest time from sampling to analysis", above=0),
)

RESULT = Table(
    "result",
    "Laboratory results",
    "Analyte values of the samples; a non-detect keeps its limit and has no value",
    "input",
    _RESULT_COLUMNS,
    batch="sample",
)

REPLACED_RESULT = Table(
    "replaced_result",
    "Replaced results",
    "Results that a later report of the laboratory replaced: kept for the record, not used",
    "input",
    (
        *_RESULT_COLUMNS[:8],
        as_key(_RESULT_COLUMNS[8]),
        as_key(_RESULT_COLUMNS[9]),
        *_RESULT_COLUMNS[10:],
        Column("replaced_by", "text", "", "The report that replaced it"),
    ),
    batch="sample",
)

CRITERION = Table(
    "criterion",
    "Criteria",
    "The user's own comparison values; the program ships none and judges no risk",
    "input",
    (
        Column("analyte", "text", "", "Substance", required=True, key=True),
        Column("value", "real", "", "Comparison value, in the unit given", True, above=0),
        Column("unit", "text", "", "Unit of the value", required=True),
        Column("basis", "text", "", "Where the value comes from", required=True),
    ),
)

AREA = Table(
    "area",
    "Areas",
    "Site area, areas closed to drilling, and source areas",
    "input",
    (
        Column("name", "text", "", "Name of the area", required=True, key=True),
        Column(
            "kind",
            "text",
            "",
            "What the area is",
            required=True,
            allowed=("site", "no drilling", "source"),
        ),
    ),
    geometry="Polygon",
)

SECTION_LINE = Table(
    "section_line",
    "Section lines",
    "Lines along which vertical sections are drawn",
    "input",
    (Column("name", "text", "", "Name of the section", required=True, key=True),),
    geometry="LineString",
)

ATTACHMENT = Table(
    "attachment",
    "Attachments",
    "Photos and documents that lie in the site folder; shown in the report, packed in a hand-over",
    "input",
    (
        Column(
            "path",
            "text",
            "",
            "File in the site folder, such as photos/core_box.jpg; never one outside it",
            required=True,
            key=True,
        ),
        Column("what", "text", "", "What the file shows", required=True),
        Column("borehole", "text", "", "Borehole that it belongs to", references="borehole"),
        Column("interval", "text", "", "Interval that it belongs to", references="interval"),
        Column("taken_at", "datetime", "", "Time at which it was made"),
        _offset("taken_at"),
        REMARKS,
    ),
)

INPUT: tuple[Table, ...] = (
    BOREHOLE,
    SURVEY,
    CONSTRUCTION,
    LITHOLOGY,
    CALIPER,
    PACKER,
    SPACER,
    INTERVAL,
    TEST,
    READING,
    PRESSURE_STEP,
    STEP_FLOW,
    PIPE_LOSS,
    WATER_LEVEL,
    SAMPLE,
    RESULT,
    REPLACED_RESULT,
    CRITERION,
    AREA,
    SECTION_LINE,
    ATTACHMENT,
)
