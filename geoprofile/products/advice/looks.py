"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.symbols import PROPOSAL_LETTERS, PROPOSED

LOOKS: Mapping[str, Look] = {
    "next_test": Look(
        Symbol("line", PROPOSED, INK, 0.3, 3.6, "square", depth_rings=True),
        None,
        (),
        "rank",
        "top",
        label_before=PROPOSAL_LETTERS["next_test"],
    ),
    "next_borehole": Look(
        Symbol("marker", PROPOSED, INK, 0.3, 5.0, "diamond"),
        label="rank",
        label_before=PROPOSAL_LETTERS["next_borehole"],
    ),
    "next_step": Look(Symbol("marker", PROPOSED, INK, 0.3, 3.2), label="label"),
    "field_programme": Look(Symbol("marker", PROPOSED, INK, 0.3, 3.2), label="number"),
}
