"""One GeoPackage with a point per site and the next tests of all, styled."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from geoprofile.drawing.marks import SITES as MARKS
from geoprofile.drawing.marks import SiteMark
from geoprofile.drawing.styles import Style, qml
from geoprofile.drawing.styles.model import Condition, Rule, Symbol
from geoprofile.drawing.symbols import INK
from geoprofile.portfolio.facts import SITES, TESTS
from geoprofile.store.gathered import Sheet, write_gathered

CRS = "EPSG:4326"


def write_package(
    path: Path, sites: Sequence[dict[str, Any]], tests: Sequence[dict[str, Any]]
) -> None:
    """Write the picture of all sites."""
    import geopandas
    import pandas as pd
    import shapely

    points = [
        None if row["longitude_deg"] is None
        else shapely.Point(row["longitude_deg"], row["latitude_deg"])
        for row in sites
    ]  # fmt: skip
    frame = geopandas.GeoDataFrame(
        pd.DataFrame(list(sites), columns=[c.name for c in SITES.columns]),
        geometry=points,
        crs=CRS,
    )
    listed = pd.DataFrame(list(tests), columns=[c.name for c in TESTS.columns])
    write_gathered(path, [Sheet(SITES, frame, qml(style())), Sheet(TESTS, listed)])


def style() -> Style:
    """Sites by the gravest thing known of them; those that failed as squares."""
    return Style(
        SITES.name,
        "marker",
        tuple(Rule(title, _conditions(mark), _symbol(mark)) for title, mark in MARKS.items()),
        label="site",
        label_at="below",
    )


def _conditions(mark: SiteMark) -> tuple[Condition, ...]:
    state = Condition("state", "=", mark.state)
    if mark.state != "finished":
        return (state,)
    return state, Condition("worst_severity", "=", mark.severity)


def _symbol(mark: SiteMark) -> Symbol:
    return Symbol("marker", mark.colour, INK, 0.3, 4.0, form=mark.form)
