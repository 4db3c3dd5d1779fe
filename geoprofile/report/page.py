"""Puts the page together: content, style and script in one file that needs no network."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Sequence
from importlib import resources
from typing import TYPE_CHECKING

from geoprofile import __version__
from geoprofile.drawing.people import now, shown_in, shown_of
from geoprofile.errors import not_drawn
from geoprofile.report import amounts, parts
from geoprofile.report.answer import answer
from geoprofile.report.changes import changes
from geoprofile.report.completeness import completeness
from geoprofile.report.content import Content
from geoprofile.report.curves import curves
from geoprofile.report.gas_maps import gas_maps
from geoprofile.report.marks_style import marks_style, patterns, spared_style
from geoprofile.report.markup import escaped, part, words
from geoprofile.report.offered import drawn, offered_parts
from geoprofile.report.origins import provenance
from geoprofile.report.profiles import profiles
from geoprofile.report.proof import proof
from geoprofile.report.quality import quality
from geoprofile.report.rounds import rounds
from geoprofile.report.section_view import sections
from geoprofile.report.sheets import further, printed
from geoprofile.report.signature import block, page_style
from geoprofile.report.site_map import plan

if TYPE_CHECKING:
    from geoprofile.plugins import ReportPart
    from geoprofile.site import Site

CONTENTS = (
    ("answer", "Answer"),
    ("map", "Map and sections"),
    ("quality", "Quality"),
    ("amounts", "Amounts"),
    ("sampling", "Sampling"),
    ("changes", "Changes"),
    ("profiles", "Profiles"),
    ("tests", "Tests"),
    ("curves", "Curves"),
    ("concentrations", "Concentrations"),
    ("soil-gas", "Soil gas"),
    ("rounds", "Rounds"),
    ("heads", "Heads"),
    ("fields", "Fields"),
    ("advice", "Next"),
    ("findings", "Findings"),
    ("methods", "Methods"),
    ("attachments", "Attachments"),
    ("completeness", "Completeness"),
    ("proof", "Checks"),
    ("provenance", "Provenance"),
)


APPENDICES = (
    '<h2 class="appendices">Appendices</h2><p>Amounts, profiles, every test, concentration and '
    "finding, methods and the origin of the numbers.</p>"
)


def page(site: Site) -> str:
    """The report as one HTML page.

    Parameters
    ----------
    site : Site
        With its derived tables; a table or column that was kept back is left empty.

    Returns
    -------
    str
        HTML that runs no script but its own and asks the network for nothing.
    """
    with shown_in(shown_of(site)):
        return _page(site)


def _page(site: Site) -> str:
    content = Content(site)
    brought = offered_parts(site)
    body = "".join(
        (
            part("answer", "The answer", answer(content) + block(content)),
            part("map", "Map and sections", _linked(content)),
            quality(content),
            APPENDICES,
            amounts.extents(content),
            amounts.sampling(content),
            _tried("the changes", changes, content),
            further(content, _drawings),
            part("profiles", "Profiles", _tried("the profiles", profiles, content)),
            parts.tests(content),
            _tried("the curves of the tests", curves, content),
            parts.concentrations(content),
            _tried("the maps of soil gas", gas_maps, content),
            _tried("the results round by round", rounds, content),
            parts.heads(content),
            parts.fields(content),
            *(drawn(one) for one in brought),
            parts.advice(content),
            parts.findings(content),
            parts.methods(content),
            parts.attachments(content),
            part("completeness", "What is recorded of each test", completeness(content)),
            part("proof", "How the numbers are checked", proof()),
            part("provenance", "Where the numbers come from", provenance(content)),
        )
    )
    return _document(site, body, brought)


def _linked(content: Content) -> str:
    """The choice of what is shown, the map, and the sections."""
    buttons = "".join(
        f'<label><input type="radio" name="quantity" value="{place}"'
        f"{' checked' if place == 0 else ''}> <bdi>{escaped(quantity)}</bdi></label>"
        for place, quantity in enumerate(content.quantities)
    )
    choice = (
        f'<fieldset class="choice"><legend>Show</legend>{buttons}</fieldset>' if buttons else ""
    )
    status = (
        '<p class="chosen" role="status" aria-live="polite">No borehole chosen. Choose one with '
        "the mouse, or with Tab and Enter.</p>"
    )
    screen = f'<div class="tools">{choice}{status}</div>{_drawings(content)}'
    return f'<div class="on-screen">{screen}</div>{printed(content, _drawings)}'


def _drawings(content: Content) -> str:
    return _tried("the map", plan, content) + _tried("the sections", sections, content)


def _tried(what: str, draw: Callable[[Content], str], content: Content) -> str:
    """A drawing, or the sentence that it could not be made: it costs no other part of the page."""
    try:
        return draw(content)
    except (OSError, MemoryError):
        raise
    except Exception as error:
        return f"<p>{escaped(not_drawn(what, error))}</p>"


def _paper(style: str) -> str:
    """The style for the paper that is asked for."""
    return style.replace("size:A4", "size:letter") if now().paper == "US Letter" else style


def _document(site: Site, body: str, brought: Sequence[ReportPart]) -> str:
    style = _paper(_file("page.css")) + marks_style() + spared_style() + page_style(site)
    script = _file("page.js")
    before = [name for name, _ in CONTENTS].index("advice")
    named = (*CONTENTS[:before], *((p.name, p.title) for p in brought), *CONTENTS[before:])
    links = "".join(
        f'<li><a href="#{escaped(name)}">{escaped(title)}</a></li>'
        for name, title in named
        if f'id="{name}"' in body
    )
    datum = site.vertical_datum or "not named"
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(style, script)}">'
        f"<title>{escaped(site.name)}: report</title><style>{style}</style></head>\n"
        f'<body><a class="skip" href="#answer">Skip to the answer</a>{patterns()}'
        f"<header><p class=kind>Site report</p><h1>{words(site.name)}</h1>"
        f"<p>Coordinates {escaped(site.crs)}; elevations above {words(datum)}. Made with "
        f"geoprofile {escaped(__version__)}.</p></header>\n"
        f'<nav aria-label="Parts of the report"><ul>{links}</ul></nav>\n'
        f"<main>{body}</main>\n<script>{script}</script></body></html>\n"
    )


def _policy(style: str, script: str) -> str:
    """Only our own style and script run, whatever a text of the user's might smuggle in."""
    return (
        f"default-src 'none'; img-src data:; style-src 'sha256-{_digest(style)}'; "
        f"script-src 'sha256-{_digest(script)}'; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _file(name: str) -> str:
    return resources.files("geoprofile.report").joinpath(name).read_text(encoding="utf-8")
