"""The next tests and boreholes, and how well earlier advice did."""

LAYERS: tuple[str, ...] = ("next_borehole", "next_step", "next_test")
OFFERS = {
    "to_keep": "track_record:to_keep",
    "records": "track_record:records_in_words",
    "steps": "next_step:steps_in_words",
}
