"""Static heads, their contours and the flow direction."""

LAYERS: tuple[str, ...] = ("flow", "head", "head_contour")
