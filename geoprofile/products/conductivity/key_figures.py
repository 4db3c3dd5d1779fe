"""K of each interval, as figures to compare between runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def key_figures(site: Site) -> Iterator[tuple[str, str, float | None]]:
    """Figure with its unit, item and value, to be compared between runs."""
    for row in records_of(site.table("interval_conductivity")):
        if row["grade"] != "rejected":
            yield "k_m_per_s", row["interval"], row["k_m_per_s"]
