"""The best of the advice, as figures to compare between runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

MOST = 5  # of tests, and of boreholes


def key_figures(site: Site) -> Iterator[tuple[str, str, str]]:
    """Figure with its unit, item and value, to be compared between runs."""
    for row in records_of(site.table("next_test").head(MOST)):
        zone = f"{row['borehole']} {row['top_m']:.1f} to {row['bottom_m']:.1f} m"
        yield "next_test", f"rank {row['rank']}", zone
    for row in records_of(site.table("next_borehole").head(MOST)):
        place = f"{row['geometry'].x:.0f} {row['geometry'].y:.0f}, {row['depth_m']:.0f} m deep"
        yield "next_borehole", f"rank {row['rank']}", place
