"""What the models rest on, as figures to compare between runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geoprofile.products.concentration.key_figures import latest_rounds, named
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


FIGURES = (
    "data_count",
    "nondetect_count",
    "sill",
    "nugget",
    "length_along_m",
    "length_across_m",
    "length_vertical_m",
    "rmse_log10",
)


def key_figures(site: Site) -> Iterator[tuple[str, str, float | None]]:
    """Figure with its unit, item and value, to be compared between runs."""
    latest = latest_rounds(site)
    for row in records_of(site.table("model")):
        item = named(row["quantity"], row["round"], latest)
        for name in FIGURES:
            yield f"field_{name}", item, row.get(name)
