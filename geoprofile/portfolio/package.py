"""One GeoPackage with a point per site and the next tests of all, styled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from geoprofile.drawing.styles import Style, qml
from geoprofile.drawing.styles.model import Condition, Rule, Symbol
from geoprofile.portfolio.facts import SITES, TESTS
from geoprofile.store.gathered import Sheet, write_gathered

CRS = "EPSG:4326"
FAILED, ALARM, CARE, FINE = "#6d6d6d", "#b2182b", "#e08214", "#4d9221"


def write_package(
    path: Path, sites: Sequence[dict[str, Any]], tests: Sequence[dict[str, Any]]
) -> None:
    """Write the picture of all sites.

    Parameters
    ----------
    path : Path
        Replaced as a whole.
    sites, tests : sequence of dict
        As from `ranked`.
    """
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

    def mark(colour: str, **more: Any) -> Symbol:
        return replace(Symbol("marker", colour, "#ffffff", 0.3, 4.0), **more)

    finished = Condition("state", "=", "finished")

    def grave(title: str, word: str | None, colour: str) -> Rule:
        return Rule(title, (finished, Condition("worst_severity", "=", word)), mark(colour))

    return Style(
        SITES.name,
        "marker",
        (
            Rule("failed", (Condition("state", "=", "failed"),), mark(FAILED, form="square")),
            Rule(
                "not computed",
                (Condition("state", "=", "not computed"),),
                mark(FAILED, form="triangle"),
            ),
            grave("with an error", "error", ALARM),
            grave("with a warning", "warning", CARE),
            grave("with notes", "note", FINE),
            grave("without findings", None, FINE),
        ),
        label="site",
        label_at="below",
    )
