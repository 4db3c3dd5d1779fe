"""Maps of K, concentrations and transmissivity."""

LAYERS: tuple[str, ...] = ("map_band", "transmissivity_band")
OFFERS = {"tables": "tables:TABLES", "legend": "tables:LEGEND", "looks": "looks:LOOKS"}
