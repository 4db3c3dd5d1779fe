"""Soil gas: its values, a model from gas alone, and its map above the water level."""

LAYERS: tuple[str, ...] = ("soil_gas",)
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "looks": "looks:LOOKS",
    "summary": "words:gas_in_words",
    "gas figures": "figure:gas_figures",
    "gas rasters": "fitted:fitted_gas",
}
