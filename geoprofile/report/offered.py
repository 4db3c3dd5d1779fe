"""Parts of the page that products bring: plain text and numbers, laid out and escaped here."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from geoprofile.plugins import ReportPart
from geoprofile.plugins.registry import offered_by_all
from geoprofile.report.markup import escaped, part
from geoprofile.report.tables import Shown, table

if TYPE_CHECKING:
    from geoprofile.site import Site


def offered_parts(site: Site) -> tuple[ReportPart, ...]:
    """The parts of every product that have something to say, with anchors apart from ours."""
    found = (one for told in offered_by_all("report") for one in told(site))
    return tuple(
        replace(one, name=f"product-{one.name}") for one in found if one.paragraphs or one.rows
    )


def drawn(one: ReportPart) -> str:
    """A part as HTML."""
    said = "".join(f"<p>{escaped(text)}</p>" for text in one.paragraphs)
    if not one.rows:
        return part(one.name, one.title, said)
    columns = [
        Shown(heading, lambda row, at=at: row["cells"][at])  # type: ignore[misc]
        for at, heading in enumerate(one.headings)
    ]
    rows = [{"cells": cells} for cells in one.rows]
    return part(one.name, one.title, said + table(one.title, columns, rows))
