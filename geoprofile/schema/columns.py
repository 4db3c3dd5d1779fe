"""Columns that several derived tables share."""

from __future__ import annotations

from geoprofile.schema.table import Column

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
    "What is mapped: the median, the probability of exceeding the criterion, or where the shape "
    "is assumed",
    required=True,
)
LOWER = Column("lower", "real", "", "Lower value of the band, in the unit given")
UPPER = Column("upper", "real", "", "Upper value of the band, in the unit given")
UNIT = Column("unit", "text", "", "Unit of the values", required=True)
LABEL = Column("label", "text", "", "Text for the legend")
BLANK_LIMIT = (  # of ground where a map shows nothing
    Column("limit", "real", "", "Limit that was passed, in the unit given"),
    Column("unit", "text", "", "Unit of the limit"),
    LABEL,
    Column("area_m2", "real", "m2", "Area of the blank"),
)
CLASS_NUMBER = Column(
    "class_number", "integer", "1", "Number of the band in its scale, 0 for the lowest"
)
CLASS_COUNT = Column("class_count", "integer", "1", "How many bands its scale has")
CLASS = (CLASS_NUMBER, CLASS_COUNT)
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
K = Column("k_m_per_s", "real", "m/s", "Hydraulic conductivity at in-situ temperature")
K_LOW = Column("k_low_m_per_s", "real", "m/s", "Lower end of the 95 % interval of K")
K_HIGH = Column("k_high_m_per_s", "real", "m/s", "Upper end of the 95 % interval of K")
SD_K = Column("sd_log10_k", "real", "1", "Standard deviation of log10 K")
PREDICTED_LOW = Column(
    "predicted_low", "real", "", "Result predicted, in the unit given: 10 % are lower"
)
PREDICTED_MEDIAN = Column(
    "predicted_median", "real", "", "Result predicted, in the unit given: half are lower"
)
PREDICTED_HIGH = Column(
    "predicted_high", "real", "", "Result predicted, in the unit given: 10 % are higher"
)
PREDICTED_UNIT = Column("predicted_unit", "text", "", "Unit of the result predicted")
UNCERTAIN = Column(
    "uncertain_m3",
    "real",
    "m3",
    "Expected volume on the wrong side of the criterion; for K the volume times the variance of "
    "log10 K",
)
