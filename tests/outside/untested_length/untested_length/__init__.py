"""Length of each borehole that no zone has covered: a product that comes with another package."""

LAYERS = ("untested_length",)
OFFERS = {
    "tables": "tables:TABLES",
    "looks": "looks:LOOKS",
    "group": "looks:GROUP",
    "figures": "figure:figures",
    "summary": "wording:summary",
    "report": "wording:report",
    "key_figures": "wording:key_figures",
}
