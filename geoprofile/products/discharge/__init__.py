"""Mass discharge through sections."""

LAYERS: tuple[str, ...] = ("discharge",)
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
}
