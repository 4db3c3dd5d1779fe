"""The next tests and boreholes, and how well earlier advice did."""

LAYERS: tuple[str, ...] = ("next_borehole", "next_test")
OFFERS = {"to_keep": "track_record:to_keep", "records": "track_record:records_in_words"}
