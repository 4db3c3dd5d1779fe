"""Who made a sheet for whom, and how far it is: the title block, as site.toml says it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from textwrap import shorten
from typing import TYPE_CHECKING, Any

from geoprofile.schema.document import DOCUMENT_KEYS, TERMS_KEYS, TITLE_KEYS

if TYPE_CHECKING:
    from geoprofile.site import Site

SEPARATOR = "   |   "
ABOUT = 3  # of the title keys say what it is about, the others who stands for it
LONGEST = 60  # letters of a text in the line
UNSIGNED = "Not signed: site.toml names no author, revision or status under [document]"


@dataclass(frozen=True)
class Document:
    """The table [document] of site.toml; every text is "" where it says nothing."""

    project: str = ""
    site: str = ""
    client: str = ""
    author: str = ""
    checked_by: str = ""
    date: str = ""
    revision: str = ""
    status: str = ""
    organisation: str = ""
    contact: str = ""
    terms_of_use: str = ""
    limitation: str = ""

    @property
    def parts(self) -> list[tuple[str, str]]:
        """Headings and texts of what is said, in the order of a title block."""
        return self._told(TITLE_KEYS)

    @property
    def terms(self) -> list[tuple[str, str]]:
        """Headings and texts of who answers for the data, and on what terms they are given."""
        return self._told(TERMS_KEYS)

    def _told(self, keys: Sequence[str]) -> list[tuple[str, str]]:
        found = ((key.replace("_", " "), getattr(self, key)) for key in keys)
        return [(name.capitalize(), text) for name, text in found if text]

    @property
    def is_signed(self) -> bool:
        """Whether somebody answers for it in some state."""
        return bool(self.author and self.status)

    @property
    def lines(self) -> tuple[str, str]:
        """The title block in two lines: what for whom, then who, when and how far."""
        upper = self._line(self._told(TITLE_KEYS[:ABOUT]))
        lower = self._line(self._told(TITLE_KEYS[ABOUT:]))
        signed = self.author or self.status
        return upper, lower if signed else SEPARATOR.join(t for t in (lower, UNSIGNED) if t)

    @property
    def line(self) -> str:
        """The title block in one line."""
        return SEPARATOR.join(line for line in self.lines if line)

    def _line(self, parts: Sequence[tuple[str, str]]) -> str:
        return SEPARATOR.join(f"{n}: {shorten(t, LONGEST, placeholder=' …')}" for n, t in parts)


def document_of(site: Site) -> Document:
    """The title block of a site.

    Parameters
    ----------
    site : Site
        Its settings.

    Returns
    -------
    Document
        Named after the site where [document] does not name it.
    """
    return document_by(site.settings_of("document"), site.name)


def document_by(said: Mapping[str, Any], name: str) -> Document:
    """The title block that [document] of site.toml asks for.

    Parameters
    ----------
    said : Mapping
        Its keys.
    name : str
        Of the site, where it names none.

    Returns
    -------
    Document
        Every text is "" where it says nothing.
    """
    known = {key: str(said[key]).strip() for key in DOCUMENT_KEYS if said.get(key) is not None}
    return Document(**{"site": name, **known})
