"""Boreholes: their paths in 3D and the surfaces through them."""

LAYERS: tuple[str, ...] = ("borehole_path",)
OFFERS = {"tables": "tables:TABLES", "legend": "tables:LEGEND", "looks": "looks:LOOKS"}
