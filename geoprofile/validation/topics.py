"""Pages of the book, and on which of them each number of a report is checked; imports nothing."""

from __future__ import annotations

from collections.abc import Mapping

TOPICS: Mapping[str, str] = {
    "k-recovery": "K from a level that recovers",
    "k-flow": "K, Lugeon value and net head from flow under pressure",
    "k-spread": "The range of K",
    "water": "Water: viscosity, density, K at another temperature",
    "units": "Units at the border",
    "depth": "Depth, elevation and place along the hole",
    "places": "Longitude and latitude",
    "heads": "Heads, gradient and direction of flow",
    "concentration": "Concentration, limits and gas",
    "trend": "Trends over sampling rounds",
    "fields": "Fields between boreholes and their uncertainty",
    "plume": "Area, volume and mass above a criterion",
    "discharge": "Mass discharge",
    "advice": "What the next test or borehole is expected to settle",
    "field-work": "Pressures, volumes and times of the field plan",
    "site-file": "The site file as the standard has it",
}
# column of a table (or of a view of the report) -> topic; every number shown has its page
NUMBERS: Mapping[str, str] = {
    "k_m_per_s": "k-recovery",
    "k_low_m_per_s": "k-spread",
    "k_high_m_per_s": "k-spread",
    "sd": "k-spread",
    "factor": "fields",
    "lugeon": "k-flow",
    "net_pressure_kpa": "k-flow",
    "net_head_m": "k-flow",
    "pipe_loss_m": "k-flow",
    "flow_l_min": "units",
    "top_m": "depth",
    "bottom_m": "depth",
    "depth_m": "depth",
    "x_m": "places",
    "y_m": "places",
    "longitude_deg": "places",
    "latitude_deg": "places",
    "head_m": "heads",
    "vertical_gradient": "heads",
    "value_ug_per_l": "concentration",
    "criterion_ug_per_l": "concentration",
    "limit_ug_per_l": "concentration",
    "relative_difference": "concentration",
    "value_ppmv": "concentration",
    "value_ug_per_m3": "concentration",
    "probability": "plume",
    "other_value_ug_per_l": "concentration",
    "p": "trend",
    "slope_ug_per_l_year": "trend",
    "slope_low_ug_per_l_year": "trend",
    "slope_high_ug_per_l_year": "trend",
    "inside": "fields",
    "coverage_50": "fields",
    "coverage_80": "fields",
    "coverage_95": "fields",
    "rmse_log10": "fields",
    "log_score": "fields",
    "log_score_constant": "fields",
    "azimuth_deg": "fields",
    "dip_deg": "fields",
    "sill": "fields",
    "nugget": "fields",
    "length_along_m": "fields",
    "length_across_m": "fields",
    "length_vertical_m": "fields",
    "predicted_low": "fields",
    "predicted_median": "fields",
    "predicted_high": "fields",
    "area_m2": "plume",
    "volume_m3": "plume",
    "volume_low_m3": "plume",
    "volume_high_m3": "plume",
    "mass_kg": "plume",
    "uncertain_m3": "advice",
    "expected_m3": "advice",
    "ground_m3": "plume",
    "discharge_g_per_day": "discharge",
    "discharge_low_g_per_day": "discharge",
    "discharge_high_g_per_day": "discharge",
    "discharge_least_g_per_day": "discharge",
    "discharge_most_g_per_day": "discharge",
    "inflation_kpa": "field-work",
    "purge_l": "field-work",
    "expected_duration_s": "field-work",
    "expected_k_m_per_s": "fields",
}
# columns that more than one page checks
ALSO: Mapping[str, tuple[str, ...]] = {
    "k_m_per_s": ("k-flow",),
    "expected_k_m_per_s": ("k-recovery",),
}
# part of the report -> topics of the numbers in its sentences, maps and drawings
PARTS: Mapping[str, tuple[str, ...]] = {
    "answer": (
        "k-recovery", "k-flow", "k-spread", "heads", "fields", "plume", "discharge", "advice",
    ),
    "map": ("places", "depth", "concentration", "fields", "plume"),
    "changes": ("k-recovery", "k-flow", "fields", "heads", "plume", "discharge"),
    "profiles": ("depth", "k-recovery", "k-flow", "k-spread", "concentration"),
    "curves": ("k-recovery", "k-flow"),
    "rounds": ("concentration", "trend"),
    "soil-gas": ("concentration", "fields"),
    "heads": ("heads", "places"),
    "sampling": ("concentration",),
}  # fmt: skip


def anchor(topic: str) -> str:
    """The name of a topic's part of a page."""
    return "proof" + topic.replace("-", "")
