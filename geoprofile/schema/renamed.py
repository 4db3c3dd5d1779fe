"""Names of earlier layouts that are still read: tables, columns, settings and methods."""

from __future__ import annotations

from collections.abc import Mapping

TABLES: Mapping[str, str] = {
    "stage": "pressure_step",
    "field": "model",
    "outlook": "remaining_uncertainty",
}
_PREDICTED = {f"foretold_{part}": f"predicted_{part}" for part in ("low", "median", "high", "unit")}
# by the present name of the table: from the old name of a column to its present one
COLUMNS: Mapping[str, Mapping[str, str]] = {
    "pressure_step": {"stage": "step"},
    "packer": {"gland_length_m": "element_length_m"},
    "model": {"mean": "trend"},
    "plume_extent": {"edge_to_border_m": "distance_to_site_boundary_m"},
    "next_test": _PREDICTED,
    "forecast": {**_PREDICTED, "undecided_m3": "uncertain_m3"},
    "remaining_uncertainty": {"undecided_m3": "uncertain_m3"},
}
METHODS: Mapping[str, str] = {
    "held-head": "steady-anisotropic",
    "hvorslev-end": "hvorslev-open-end",
    "hvorslev-roof": "hvorslev-confining-layer",
    "oscillating": "underdamped",
}
SETTINGS: Mapping[str, str] = {"field": "model"}  # tables of site.toml
SETTING_NAMES: Mapping[str, Mapping[str, str]] = {"model": {"mean": "trend", "mean_k": "trend_k"}}
