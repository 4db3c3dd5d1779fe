"""Static heads, their contours and the flow direction."""

OFFERS = {
    "tables": "tables:TABLES",
    "legend": "tables:LEGEND",
    "key_figures": "key_figures:key_figures",
    "looks": "looks:LOOKS",
    "vertical_levels": "inputs_levels:with_vertical_levels",
    "limits": "limits:in_words",
}
LAYERS: tuple[str, ...] = ("flow", "head", "head_contour")
