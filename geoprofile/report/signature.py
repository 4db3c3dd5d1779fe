"""Who answers for the report, and the words that stand on each printed page."""

from __future__ import annotations

from geoprofile.drawing.document import UNSIGNED, document_of
from geoprofile.report.content import Content
from geoprofile.report.markup import escaped, plain, words
from geoprofile.site import Site

LINES = (("Prepared by", "author"), ("Checked by", "checked_by"))


def block(content: Content) -> str:
    """The title block with lines to sign; a sentence where nobody is named."""
    document = document_of(content.site)
    told = "".join(
        f"<div><dt>{escaped(name)}</dt><dd>{words(text)}</dd></div>"
        for name, text in document.parts
        if name != "Site"
    )
    note = "" if document.is_signed else f'<p class="caution">{UNSIGNED}.</p>'
    lines = "".join(
        f'<p class="sign">{what}: {words(getattr(document, key))}<span class="rule"></span>'
        "signature, date</p>"
        for what, key in LINES
    )
    return f'<dl class="block">{told}</dl>{note}<div class="signs">{lines}</div>'


def page_style(site: Site) -> str:
    """Site name and status at the foot of every printed page, with its number."""
    document = document_of(site)
    status = ", ".join(
        part
        for part in (
            document.status or "status not stated",
            f"revision {document.revision}" if document.revision else "",
            document.date,
        )
        if part
    )
    left = _quoted(f"{document.site}   |   {status}")
    return (
        f"@page{{@bottom-left{{content:{left};font-size:8pt}}"
        '@bottom-right{content:"Page " counter(page) " of " counter(pages);font-size:8pt}}'
    )


def _quoted(text: str) -> str:
    """A text as a string of a style sheet, every unusual letter by its number."""
    kept = (
        c if c.isascii() and (c.isalnum() or c in " .,-|") else f"\\{ord(c):x} "
        for c in plain(text)
    )
    return f'"{"".join(kept)}"'
