"""The model of each quantity between boreholes, fitted and cross-validated."""

LAYERS: tuple[str, ...] = ("model",)
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "field": "fitted:field_of",
    "limits": "limits:limits_in_words",
    "model figures": "figure_held_out:held_out_jobs",
}
