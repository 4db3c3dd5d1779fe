"""The table of the product."""

from geoprofile.schema.columns import HOLE, RUN
from geoprofile.schema.table import Column, Table

TABLES = (
    Table(
        "untested_length",
        "Untested length",
        "Length of the open part of each borehole that no zone has covered",
        "derived",
        (
            HOLE,
            Column("open_m", "real", "m", "Length of open hole and screens", low=0.0),
            Column("untested_m", "real", "m", "Length of it in gaps that no zone covers", low=0.0),
            Column("gap_count", "integer", "1", "Number of such gaps", low=0.0),
            RUN,
        ),
        "PointZ",
    ),
)
