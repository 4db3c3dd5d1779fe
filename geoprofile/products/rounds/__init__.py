"""Results round by round: change and its scatter, trend and its test."""

LAYERS: tuple[str, ...] = ("rounds",)
OFFERS = {"tables": "tables:TABLES", "legend": "tables:LEGEND"}
