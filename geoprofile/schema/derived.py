"""The derived tables: what geoprofile computes and rebuilds as a whole; no place for notes."""

from __future__ import annotations

from geoprofile.schema.records import Column, Table

RUN = Column("run", "integer", "1", "Run that made this row", required=True, references="run")
HOLE = Column("borehole", "text", "", "Borehole or well")
INTERVAL = Column("interval", "text", "", "Interval")
TOP = Column("top_m", "real", "m", "Top, depth along the hole from ground")
BOTTOM = Column("bottom_m", "real", "m", "Bottom, depth along the hole from ground")
ROUND = Column("round", "text", "", "Sampling round")
QUANTITY = Column("quantity", "text", "", "K or the analyte", required=True)
STATISTIC = Column(
    "statistic",
    "text",
    "",
    "What is mapped: the median, or the probability of exceeding the criterion",
    required=True,
)
LOWER = Column("lower", "real", "", "Lower value of the band, in the unit given")
UPPER = Column("upper", "real", "", "Upper value of the band, in the unit given")
UNIT = Column("unit", "text", "", "Unit of the values", required=True)
LABEL = Column("label", "text", "", "Text for the legend")
GRADES = ("accepted", "qualified", "rejected")
SECTION = Column("section", "text", "", "Name of the section", required=True)
PROJECTION = Column(
    "projection_distance_m", "real", "m", "Distance over which it is projected onto the section"
)
CRITERION = Column("criterion_ug_per_l", "real", "ug/L", "Criterion of the user")
PROBABILITY = Column(
    "probability", "real", "1", "Probability of exceeding the criterion at the edge", required=True
)
NOTES = Column("notes", "text", "", "Reasons and remarks in words")
K = Column("k_m_per_s", "real", "m/s", "Hydraulic conductivity at the temperature in place")
K_LOW = Column("k_low_m_per_s", "real", "m/s", "Lower end of the 95 % interval of K")
K_HIGH = Column("k_high_m_per_s", "real", "m/s", "Upper end of the 95 % interval of K")
SD_K = Column("sd_log10_k", "real", "1", "Standard deviation of log10 K")

BOREHOLE_PATH = Table(
    "borehole_path",
    "Borehole paths",
    "The holes in 3D, from the surveys by minimum curvature",
    "derived",
    (
        HOLE,
        Column("length_m", "real", "m", "Length along the hole"),
        Column("end_elevation_m", "real", "m", "Elevation of the end of the hole"),
        Column("surveyed", "boolean", "", "False where the hole counts as vertical"),
        RUN,
    ),
    geometry="LineStringZ",
)

HYDRO_UNIT = Table(
    "hydro_unit",
    "Hydrostratigraphic units",
    "Where each borehole meets the units that maps and fields keep apart",
    "derived",
    (
        HOLE,
        Column("hydro_unit", "text", "", "Hydrostratigraphic unit", required=True),
        Column("unit_number", "integer", "1", "Order of the units, 1 is the uppermost"),
        TOP,
        BOTTOM,
        Column("top_elevation_m", "real", "m", "Elevation of the top, up from the vertical datum"),
        Column("bottom_elevation_m", "real", "m", "Elevation of the bottom met in the hole"),
        Column("base_met", "boolean", "", "False where the log ends inside the unit"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

CONDUCTIVITY = Table(
    "conductivity",
    "K of each test",
    "Hydraulic conductivity by test and method, with its spread, grade and reasons",
    "derived",
    (
        Column("test", "text", "", "Test"),
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("method", "text", "", "Method of analysis"),
        K,
        K_LOW,
        K_HIGH,
        SD_K,
        Column("specific_storage_per_m", "real", "1/m", "Specific storage, where fitted"),
        Column("start_s", "real", "s", "Start of the response that was used"),
        Column("initial_displacement_m", "real", "m", "Displacement at the start, from the fit"),
        Column("window_high", "real", "1", "Upper end of the fit window, normalised head"),
        Column("window_low", "real", "1", "Lower end of the fit window, normalised head"),
        Column("readings_used", "integer", "1", "Readings in the fit"),
        Column("grade", "text", "", "Grade of the test", allowed=GRADES),
        Column("preferred", "boolean", "", "Whether this method is the preferred one"),
        Column("chosen_by", "text", "", "Who chose the method", allowed=("program", "user")),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

INTERVAL_CONDUCTIVITY = Table(
    "interval_conductivity",
    "K of each interval",
    "One K per interval from its accepted and qualified tests, with spread and transmissivity",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        K,
        K_LOW,
        K_HIGH,
        SD_K,
        Column(
            "transmissivity_m2_per_s",
            "real",
            "m2/s",
            "Transmissivity of the interval, K times length",
        ),
        Column("tests", "integer", "1", "Tests that the value rests on"),
        Column("grade", "text", "", "Grade of the value", allowed=GRADES),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

CONCENTRATION = Table(
    "concentration",
    "Concentration of each interval",
    "One row per interval, analyte and round; a non-detect has a limit and no value",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("analyte", "text", "", "Substance"),
        ROUND,
        Column("medium", "text", "", "What was sampled"),
        Column("sampled_at", "datetime", "", "Time of the latest sample used"),
        Column("value_ug_per_l", "real", "ug/L", "Concentration; empty if not detected"),
        Column("detected", "boolean", "", "Whether the substance was detected"),
        Column("limit_ug_per_l", "real", "ug/L", "Limit of a non-detect"),
        Column(
            "sd_log10", "real", "1", "Standard deviation of log10 of the value, from duplicates"
        ),
        Column("samples", "integer", "1", "Samples that the value rests on"),
        Column("exceeds", "boolean", "", "Above the criterion; empty where that is not known"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

HEAD = Table(
    "head",
    "Static heads",
    "Static head per interval and time, with the gradient to the next interval below",
    "derived",
    (
        INTERVAL,
        HOLE,
        Column("measured_at", "datetime", "", "Time of measurement"),
        Column("head_m", "real", "m", "Static head, up from the vertical datum"),
        Column("vertical_gradient", "real", "1", "Head difference over distance, upward positive"),
        Column("next_interval", "text", "", "Interval below that the gradient is taken to"),
        NOTES,
        RUN,
    ),
    geometry="PointZ",
)

FLOW = Table(
    "flow",
    "Flow direction",
    "Horizontal hydraulic gradient and its direction from a plane through the heads",
    "derived",
    (
        Column("measured_at", "datetime", "", "Time of the latest head used"),
        Column("gradient", "real", "1", "Horizontal hydraulic gradient"),
        Column("gradient_sd", "real", "1", "Standard deviation of the gradient"),
        Column("azimuth_deg", "real", "deg", "Direction of flow from grid north, clockwise"),
        Column("azimuth_sd_deg", "real", "deg", "Standard deviation of the direction"),
        Column("boreholes", "integer", "1", "Boreholes that the plane rests on"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

FIELD_MODEL = Table(
    "field",
    "Fields between wells",
    "The fitted model of each quantity and round, and how well it foretells unseen boreholes",
    "derived",
    (
        QUANTITY,
        ROUND,
        UNIT,
        Column("transform", "text", "", "Scale on which the field is modelled"),
        Column("mean", "text", "", "Form of the mean"),
        Column("covariance", "text", "", "Covariance model"),
        Column("sill", "real", "1", "Variance of log10 of the quantity about its mean"),
        Column("nugget", "real", "1", "Variance of log10 below the support of an interval"),
        Column("length_along_m", "real", "m", "Correlation length along the azimuth"),
        Column("length_across_m", "real", "m", "Correlation length across the azimuth"),
        Column("length_vertical_m", "real", "m", "Correlation length across the layers"),
        Column("azimuth_deg", "real", "deg", "Azimuth of the longest correlation"),
        Column("dip_deg", "real", "deg", "Dip along the azimuth, downwards positive"),
        Column("data_count", "integer", "1", "Intervals with a value or a limit"),
        Column("nondetect_count", "integer", "1", "Intervals below their limit"),
        Column("borehole_count", "integer", "1", "Boreholes with data"),
        Column(
            "log_score", "real", "1", "Mean of -ln density at left-out boreholes, lower is better"
        ),
        Column("rmse_log10", "real", "1", "Root mean square error of log10 at left-out boreholes"),
        Column("coverage_50", "real", "1", "Share of left-out values inside their 50 % interval"),
        Column("coverage_80", "real", "1", "Share of left-out values inside their 80 % interval"),
        Column("coverage_95", "real", "1", "Share of left-out values inside their 95 % interval"),
        Column("warnings", "text", "", "What the reader must know"),
        Column(
            "model", "text", "", "The fitted model in JSON, enough to predict without refitting"
        ),
        RUN,
    ),
)

MAP_BAND = Table(
    "map_band",
    "Map bands",
    "Filled bands between two values, per quantity, statistic and elevation",
    "derived",
    (
        QUANTITY,
        ROUND,
        STATISTIC,
        Column("surface", "text", "", "What the map lies on", allowed=("elevation",)),
        Column("elevation_m", "real", "m", "Elevation of the map, up from the vertical datum"),
        LOWER,
        UPPER,
        UNIT,
        LABEL,
        RUN,
    ),
    geometry="MultiPolygon",
)

PLUME_EXTENT = Table(
    "plume_extent",
    "Plume extent",
    "Where the criterion is exceeded with a given probability; says what is likely, judges no risk",
    "derived",
    (
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        CRITERION,
        PROBABILITY,
        Column(
            "surface",
            "text",
            "",
            "At one elevation, or at any depth: there the chance is that of the likeliest layer, "
            "which is a lower bound unless any_depth = joint was set",
            allowed=("elevation", "any depth"),
        ),
        Column("elevation_m", "real", "m", "Elevation; empty for any depth"),
        Column("area_m2", "real", "m2", "Area of the extent"),
        Column("volume_m3", "real", "m3", "Expected volume above the criterion, any depth"),
        Column("volume_low_m3", "real", "m3", "10 % quantile of the volume"),
        Column("volume_high_m3", "real", "m3", "90 % quantile of the volume"),
        RUN,
    ),
    geometry="MultiPolygon",
)

SECTION_TRACE = Table(
    "section_trace",
    "Section traces",
    "Where each vertical section lies on the map",
    "derived",
    (
        SECTION,
        Column("length_m", "real", "m", "Length of the section"),
        Column("sheet_start_m", "real", "m", "Where the section begins on the section sheet"),
        Column("band_width_m", "real", "m", "Boreholes nearer than this are projected"),
        RUN,
    ),
    geometry="LineString",
)

SECTION_BAND = Table(
    "section_band",
    "Section bands",
    "Filled bands of a field in the section plane: x is distance along the line plus the section's "
    "start on the sheet, y is elevation",
    "derived",
    (
        SECTION,
        QUANTITY,
        ROUND,
        STATISTIC,
        LOWER,
        UPPER,
        UNIT,
        LABEL,
        Column(
            "certainty",
            "text",
            "",
            "Whether the field is well supported here",
            allowed=("supported", "uncertain"),
        ),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

SECTION_INTERVAL = Table(
    "section_interval",
    "Section intervals",
    "Intervals as bars of their true length along the projected hole, with their results",
    "derived",
    (
        SECTION,
        INTERVAL,
        HOLE,
        QUANTITY,
        ROUND,
        Column("value", "real", "", "Value, in the unit given; empty if not detected"),
        Column("low", "real", "", "Lower end of the 95 % interval, in the unit given"),
        Column("high", "real", "", "Upper end of the 95 % interval, in the unit given"),
        Column("detected", "boolean", "", "Whether the substance was detected"),
        Column("limit", "real", "", "Limit of a non-detect, in the unit given"),
        UNIT,
        LABEL,
        PROJECTION,
        RUN,
    ),
    geometry="LineString",
    plane="section",
)

SECTION_HOLE = Table(
    "section_hole",
    "Section boreholes",
    "Boreholes projected onto the section plane",
    "derived",
    (SECTION, HOLE, PROJECTION, RUN),
    geometry="LineString",
    plane="section",
)

SECTION_PLUME = Table(
    "section_plume",
    "Section plume edges",
    "Where the section plane lies inside the plume extent with a given probability",
    "derived",
    (
        SECTION,
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        CRITERION,
        PROBABILITY,
        Column("area_m2", "real", "m2", "Area in the section plane"),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

SECTION_SURFACE = Table(
    "section_surface",
    "Section surfaces",
    "Ground and water level along the section",
    "derived",
    (
        SECTION,
        Column("surface", "text", "", "Which surface", allowed=("ground", "water level")),
        NOTES,
        RUN,
    ),
    geometry="LineString",
    plane="section",
)

DISCHARGE = Table(
    "discharge",
    "Mass discharge",
    "Mass of a substance that passes a section per day, with its range",
    "derived",
    (
        SECTION,
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        Column("discharge_g_per_day", "real", "g/d", "Median mass discharge"),
        Column("discharge_low_g_per_day", "real", "g/d", "10 % quantile"),
        Column("discharge_high_g_per_day", "real", "g/d", "90 % quantile"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

NEXT_TEST = Table(
    "next_test",
    "Next tests",
    "Untested parts of existing boreholes, ranked by what a test there is expected to teach",
    "derived",
    (
        Column("rank", "integer", "1", "Rank, 1 is best"),
        HOLE,
        TOP,
        BOTTOM,
        Column("purpose", "text", "", "What the test is for"),
        QUANTITY,
        Column("gain", "real", "", "Expected reduction of the uncertainty, in the unit given"),
        Column("gain_unit", "text", "", "Unit of the gain"),
        Column("gain_share", "real", "1", "Gain as a share of the present uncertainty"),
        Column("reason", "text", "", "Why this depth"),
        Column("packer", "text", "", "Packer that fits"),
        Column("spacer", "text", "", "Open length that fits"),
        Column("inflation_kpa", "real", "kPa", "Planned gauge pressure of inflation, gas line"),
        Column("expected_k_m_per_s", "real", "m/s", "Median of K expected there"),
        Column("expected_duration_s", "real", "s", "Expected time to 15 % of the displacement"),
        Column(
            "purge_l", "real", "L", "Purge volume, three times the isolated volume and the line"
        ),
        Column("cautions", "text", "", "What to mind before going out"),
        RUN,
    ),
    geometry="LineStringZ",
)

NEXT_BOREHOLE = Table(
    "next_borehole",
    "Next boreholes",
    "Places for new boreholes, ranked by what they are expected to teach",
    "derived",
    (
        Column("rank", "integer", "1", "Rank, 1 is best"),
        Column("depth_m", "real", "m", "Proposed depth"),
        Column("intervals", "text", "", "Proposed intervals"),
        QUANTITY,
        Column("gain", "real", "", "Expected reduction of the uncertainty, in the unit given"),
        Column("gain_unit", "text", "", "Unit of the gain"),
        Column("reason", "text", "", "Why there"),
        Column("cautions", "text", "", "What to mind before drilling"),
        RUN,
    ),
    geometry="PointZ",
)

FINDING = Table(
    "finding",
    "Findings",
    "What the data check found, with the first thing to do",
    "derived",
    (
        Column("source_table", "text", "", "Table concerned"),
        Column("row_key", "text", "", "Row concerned"),
        Column("what", "text", "", "What was found"),
        Column(
            "severity", "text", "", "How much it matters", allowed=("note", "warning", "serious")
        ),
        Column("what_to_do", "text", "", "The first thing to do"),
        Column("step", "text", "", "Step that found it"),
        RUN,
    ),
)

DERIVED: tuple[Table, ...] = (
    BOREHOLE_PATH,
    HYDRO_UNIT,
    CONDUCTIVITY,
    INTERVAL_CONDUCTIVITY,
    CONCENTRATION,
    HEAD,
    FLOW,
    FIELD_MODEL,
    MAP_BAND,
    PLUME_EXTENT,
    SECTION_TRACE,
    SECTION_BAND,
    SECTION_INTERVAL,
    SECTION_HOLE,
    SECTION_PLUME,
    SECTION_SURFACE,
    DISCHARGE,
    NEXT_TEST,
    NEXT_BOREHOLE,
    FINDING,
)
