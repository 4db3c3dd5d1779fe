"""Concentration of each interval."""

LAYERS: tuple[str, ...] = ("concentration", "sampling_quality")
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
    "limits": "filled:in_words",
}
