"""The derived tables of the advice: what to test next, and what to expect of it."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import (
    BOTTOM,
    HOLE,
    PREDICTED_HIGH,
    PREDICTED_LOW,
    PREDICTED_MEDIAN,
    PREDICTED_UNIT,
    QUANTITY,
    ROUND,
    RUN,
    TOP,
    UNCERTAIN,
)
from geoprofile.schema.table import Column, Table

PLACE = (
    Column("x_m", "real", "m", "Where the hole starts: easting in the CRS of the site"),
    Column("y_m", "real", "m", "Where the hole starts: northing in the CRS of the site"),
    Column("longitude_deg", "real", "deg", "Where the hole starts: longitude, WGS 84"),
    Column("latitude_deg", "real", "deg", "Where the hole starts: latitude, WGS 84"),
)

ALSO = Column("also", "text", "", "Other quantities that the same work decides")

WORTH = Column(
    "worth",
    "real",
    "1",
    "Shares of what is uncertain that it decides, added over its quantities, per unit of cost; "
    "orders the list",
)

COST = Column("cost", "real", "1", "What it costs, by cost_... of [next_test] or [next_borehole]")

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
        ALSO,
        COST,
        WORTH,
        Column("reason", "text", "", "Why this depth"),
        PREDICTED_LOW,
        PREDICTED_MEDIAN,
        PREDICTED_HIGH,
        PREDICTED_UNIT,
        Column("packer", "text", "", "Packer that fits"),
        Column("spacer", "text", "", "Open length that fits"),
        Column("inflation_kpa", "real", "kPa", "Planned gauge pressure of inflation, gas line"),
        Column("expected_k_m_per_s", "real", "m/s", "Median of K expected there"),
        Column("expected_duration_s", "real", "s", "Expected time to 15 % of the displacement"),
        Column(
            "purge_l", "real", "L", "Purge volume, three times the isolated volume and the line"
        ),
        Column("cautions", "text", "", "What to mind before going out"),
        *PLACE,
        RUN,
    ),
    geometry="LineStringZ",
)

NEXT_TEST_QUANTITY = Table(
    "next_test_quantity",
    "Quantities of next tests",
    "What a proposed test is expected to find of each quantity that it serves",
    "derived",
    (
        Column("rank", "integer", "1", "Rank of the proposed test"),
        HOLE,
        TOP,
        BOTTOM,
        QUANTITY,
        Column("gain_share", "real", "1", "Gain as a share of the present uncertainty"),
        PREDICTED_LOW,
        PREDICTED_MEDIAN,
        PREDICTED_HIGH,
        PREDICTED_UNIT,
        RUN,
    ),
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
        ALSO,
        COST,
        WORTH,
        Column("reason", "text", "", "Why there"),
        Column("cautions", "text", "", "What to mind before drilling"),
        *PLACE,
        RUN,
    ),
    geometry="PointZ",
)

NEXT_BOREHOLE_ZONE = Table(
    "next_borehole_zone",
    "Zones of next boreholes",
    "The zones of each proposed borehole, with what a test there is expected to find",
    "derived",
    (
        Column("rank", "integer", "1", "Rank of the proposed borehole"),
        TOP,
        BOTTOM,
        QUANTITY,
        Column("gain_share", "real", "1", "Gain of the whole borehole as a share, over its zones"),
        PREDICTED_LOW,
        PREDICTED_MEDIAN,
        PREDICTED_HIGH,
        PREDICTED_UNIT,
        *PLACE,
        RUN,
    ),
)

NEXT_STEP = Table(
    "next_step",
    "Next steps",
    "Proposed tests and boreholes in one list over all quantities, each place once",
    "derived",
    (
        Column("number", "integer", "1", "Number in the list, 1 is best"),
        Column("step", "text", "", "What is proposed", allowed=("test", "new borehole")),
        Column("label", "text", "", "T or D with the rank among the tests or boreholes"),
        Column("borehole", "text", "", "Existing borehole; empty for a new one"),
        Column("zones", "text", "", "Zones, depths from ground [m]"),
        Column("depth_m", "real", "m", "Proposed depth of a new borehole"),
        Column("quantities", "text", "", "What it decides, the largest gain first"),
        COST,
        WORTH,
        Column("reason", "text", "", "Why there"),
        *PLACE,
        RUN,
    ),
    geometry="PointZ",
)

FIELD_PROGRAMME = Table(
    "field_programme",
    "Programme of field work",
    "Tests and new boreholes for a budget of money and days, in the order in which they pay",
    "derived",
    (
        Column("number", "integer", "1", "Number in the order of work, 1 is first"),
        Column("step", "text", "", "What is proposed", allowed=("test", "new borehole")),
        Column("borehole", "text", "", "Existing borehole; empty for a new one"),
        Column("zones", "text", "", "Zones, depths along the hole [m]"),
        Column("depth_m", "real", "m", "Proposed depth of a new borehole"),
        Column("quantities", "text", "", "What it decides, the largest gain first"),
        Column(
            "cost",
            "real",
            "1",
            "What it costs, in the currency of the budget, by cost_... of [field_programme]",
        ),
        Column("days_d", "real", "d", "Days in the field"),
        Column("total_cost", "real", "1", "Cost of all steps so far"),
        Column("total_days_d", "real", "d", "Days in the field of all steps so far"),
        Column("gain_m3", "real", "m3", "Expected fall of the volume that is uncertain"),
        Column("left_m3", "real", "m3", "Volume expected to stay uncertain after it"),
        Column("reason", "text", "", "Why there"),
        Column("cautions", "text", "", "What to mind before going out"),
        *PLACE,
        RUN,
    ),
    geometry="PointZ",
)

REMAINING_UNCERTAINTY = Table(
    "remaining_uncertainty",
    "Remaining uncertainty",
    "What stopping now would leave open, and what the proposed tests are expected to leave",
    "derived",
    (
        QUANTITY,
        ROUND,
        UNCERTAIN,
        Column("ground_m3", "real", "m3", "All ground looked at"),
        Column("tests", "integer", "1", "Proposed tests"),
        Column(
            "expected_m3",
            "real",
            "m3",
            "The volume of uncertain classification expected after those tests",
        ),
        RUN,
    ),
)

TABLES: tuple[Table, ...] = (
    NEXT_TEST,
    NEXT_TEST_QUANTITY,
    NEXT_BOREHOLE,
    NEXT_BOREHOLE_ZONE,
    NEXT_STEP,
    FIELD_PROGRAMME,
    REMAINING_UNCERTAINTY,
)
LEGEND: Mapping[str, LegendPlace] = {
    "next_step": LegendPlace("What next", 10),
    "field_programme": LegendPlace("What next", 20),
    "next_test": LegendPlace("What next", 30),
    "next_test_quantity": LegendPlace("What next", 40),
    "next_borehole": LegendPlace("What next", 50),
    "next_borehole_zone": LegendPlace("What next", 60),
    "remaining_uncertainty": LegendPlace("What next", 70),
}
