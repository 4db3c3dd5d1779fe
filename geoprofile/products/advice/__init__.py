"""The next tests and boreholes, and how well earlier advice did."""

LAYERS: tuple[str, ...] = ("field_programme", "next_borehole", "next_step", "next_test")
OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
    "to_keep": "track_record:to_keep",
    "records": "track_record:records_in_words",
    "steps": "next_step:steps_in_words",
    "programme": "field_programme:programme_in_words",
}
