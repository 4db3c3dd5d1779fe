"""How the GIS draws it, and where in the project it stands."""

from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.symbols import INK, WARN

GROUP = "Coverage"
LOOKS = {
    "untested_length": Look(
        Symbol("marker", WARN, INK, 0.2, 4.4, "square"), label="untested_m", label_decimals=1
    )
}
