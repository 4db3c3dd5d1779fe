"""K of each test and each interval."""

LAYERS: tuple[str, ...] = ("conductivity", "consistency")
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
}
