"""The mass discharge, as figures to compare between runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geoprofile.products.concentration.key_figures import latest_rounds, named
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def key_figures(site: Site) -> Iterator[tuple[str, str, float | None]]:
    """Figure with its unit, item and value, to be compared between runs."""
    latest = latest_rounds(site)
    for row in records_of(site.table("discharge")):
        item = f"{named(row['analyte'], row['round'], latest)} through {row['section']}"
        yield "discharge_g_per_day", item, row["discharge_g_per_day"]
