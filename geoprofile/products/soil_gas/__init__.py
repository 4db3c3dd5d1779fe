"""Soil gas: its values, a model from gas alone, and its map above the water level."""

LAYERS: tuple[str, ...] = ("soil_gas",)
OFFERS = {"found": "words:gas_in_words", "gas figures": "figure:gas_figures"}
