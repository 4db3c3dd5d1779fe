"""Maps and sections on paper: all of the summary in few pages, the rest among the appendices."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from geoprofile.report.content import Content
from geoprofile.report.markup import part, words

PAGES = 3  # of the summary, for maps and sections: six less the answer and the quality
MOST_ON_A_PAGE = 4
FEW = 1  # sections that may be drawn larger, as there is room
SECTIONS_ON_A_PAGE = {1: 3, 2: 2, 3: 1, 4: 1}  # of each quantity, by quantities on a page
MARKS = re.compile(
    r' (?:data-quantity="\d+"|data-hole="\d+"|tabindex="0"|role="(?:button|group)"'
    r'|aria-pressed="false"|aria-label="Borehole [^"]*"|data-name="[^"]*")'
    r'|<circle class="reach"[^>]*/>|<text class="name quiet"[^>]*>[^<]*</text>'
)


Draw = Callable[[Content], str]


def printed(content: Content, draw: Draw) -> str:
    """Map and sections of every quantity for the summary: paper has no buttons.

    Parameters
    ----------
    content : Content
        Of the site.
    draw : callable
        Draws map and sections of what is chosen.

    Returns
    -------
    str
        HTML that only paper shows; never more than three pages.
    """
    quantities = content.quantities
    on_page = _on_a_page(content)
    shown = quantities[: PAGES * on_page]
    few = " few" if on_page == 1 and len(content.rows("section_trace")) <= FEW else ""
    sheets = []
    for place, quantity in enumerate(shown):
        first = " first" if place and place % on_page == 0 else ""
        alone = content.only(quantity, SECTIONS_ON_A_PAGE[on_page])
        sheets.append(_sheet(draw(alone), f"of-{on_page}{first}{few}", quantity))
    inner = "".join(sheets) or _unmarked(draw(content))
    if _is_cut(content):
        inner += "<p>All maps and sections stand in full among the appendices.</p>"
    return f'<div class="on-paper" aria-hidden="true">{inner}</div>'


def further(content: Content, draw: Draw) -> str:
    """Every map and section at full size, where the summary has not room for all of them.

    Parameters
    ----------
    content : Content
        Of the site.
    draw : callable
        Draws map and sections of what is chosen.

    Returns
    -------
    str
        HTML that only paper shows; "" where the summary holds all.
    """
    if not _is_cut(content):
        return ""
    sheets = (_sheet(draw(content.only(q)), "of-1 first", q) for q in content.quantities)
    inner = part("sheets", "Maps and sections", "".join(sheets))
    return f'<div class="on-paper" aria-hidden="true">{inner}</div>'


def _on_a_page(content: Content) -> int:
    return min(max(1, math.ceil(len(content.quantities) / PAGES)), MOST_ON_A_PAGE)


def _is_cut(content: Content) -> bool:
    """Whether the summary shows fewer sections, or smaller maps, than there are."""
    return _on_a_page(content) > 1 or len(content.rows("section_trace")) > SECTIONS_ON_A_PAGE[1]


def _sheet(drawn: str, kind: str, quantity: str) -> str:
    return (
        f'<div class="sheet {kind}"><h3>{words(quantity)}: map and sections</h3>'
        f'<div class="drawn">{_unmarked(drawn)}</div></div>'
    )


def _unmarked(drawn: str) -> str:
    """Drawings for paper: nothing in them can be chosen or reached with the keyboard."""
    return MARKS.sub("", drawn)
