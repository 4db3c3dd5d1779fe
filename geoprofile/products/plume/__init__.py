"""The extent of a plume and how it changed between rounds."""

LAYERS: tuple[str, ...] = ("plume_change", "plume_extent")
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
}
