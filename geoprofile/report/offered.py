"""Parts of the page that products bring: plain text and numbers, laid out and escaped here."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from geoprofile.errors import not_drawn
from geoprofile.plugins import ReportPart
from geoprofile.plugins.registry import asked_of_all
from geoprofile.report.markup import escaped, part
from geoprofile.report.tables import Shown, table

if TYPE_CHECKING:
    from geoprofile.site import Site


def offered_parts(site: Site) -> tuple[ReportPart, ...]:
    """The parts of every product that have something to say, with anchors apart from ours."""
    found: list[ReportPart] = []
    for name, answer in asked_of_all("report", site):
        if isinstance(answer, Exception):
            said = not_drawn("this part of the report", answer, "Not told")
            found.append(ReportPart(name, name.replace("_", " ").capitalize(), (said,)))
        else:
            found += answer
    return tuple(
        replace(one, name=f"product-{one.name}") for one in found if one.paragraphs or one.rows
    )


def drawn(one: ReportPart) -> str:
    """A part as HTML; one with rows that do not fit its headings costs itself alone."""
    said = "".join(f"<p>{escaped(text)}</p>" for text in one.paragraphs)
    if not one.rows:
        return part(one.name, one.title, said)
    try:
        return part(one.name, one.title, said + _rows(one))
    except (LookupError, TypeError, ValueError) as error:
        said += f"<p>{escaped(not_drawn(one.title, error, 'Not told'))}</p>"
        return part(one.name, one.title, said)


def _rows(one: ReportPart) -> str:
    columns = [
        Shown(heading, lambda row, at=at: row["cells"][at])  # type: ignore[misc]
        for at, heading in enumerate(one.headings)
    ]
    return table(one.title, columns, [{"cells": cells} for cells in one.rows])
