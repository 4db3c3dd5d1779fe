"""The next tests and boreholes, and how well earlier advice did."""

LAYERS: tuple[str, ...] = ("next_borehole", "next_test")
