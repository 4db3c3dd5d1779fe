"""The sizes of the plumes, as figures to compare between runs."""

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
    for row in records_of(site.table("plume_extent")):
        if row["surface"] == "any depth" and row["probability"] == 0.5:
            analyte = named(row["analyte"], row["round"], latest)
            item = f"{analyte} above {row['criterion_ug_per_l']:g} ug/L"
            for name in ("area_m2", "volume_m3", "mass_kg"):
                yield f"plume_{name}", item, row.get(name)
