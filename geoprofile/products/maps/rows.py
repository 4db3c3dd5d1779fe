"""Which fields may be mapped."""

from __future__ import annotations

from collections.abc import Sequence

from geoprofile.engine.rows import finding
from geoprofile.products.maps.mapping import FEWEST_BOREHOLES, MappedField, boreholes_with_data


def spanning(
    fields: Sequence[MappedField], source: str
) -> tuple[list[MappedField], list[dict[str, str]]]:
    """Fields whose data span a map, and findings on the others."""
    kept: list[MappedField] = []
    findings: list[dict[str, str]] = []
    for field in fields:
        count = boreholes_with_data(field)
        if count is None or count >= FEWEST_BOREHOLES:
            kept.append(field)
            continue
        label = " ".join(name for name in (field.quantity, field.round) if name)
        findings.append(
            finding(
                source,
                label,
                f"nothing mapped of {label}: data in {count} borehole(s), which do not span a map",
                what_to_do=f"Map a round with results in at least {FEWEST_BOREHOLES} boreholes, "
                "or look at the measured intervals themselves.",
            )
        )
    return kept, findings
