"""Text to HTML: the one place where anything of the user's enters the page, always escaped."""

from __future__ import annotations

import html
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

from geoprofile.drawing.symbols import in_plain_figures, tidy
from geoprofile.validation.topics import PARTS, TOPICS, anchor

# characters that turn the direction of text or break lines; they could reorder what is read
STEERING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x2028, 0x2029}
SHORT = 24


def escaped(value: Any) -> str:
    """A text that is safe inside elements and quoted attributes; control characters are dropped."""
    return html.escape(plain(value), quote=True)


def plain(value: Any) -> str:
    """A text without control characters."""
    kept = (c for c in str(value) if ord(c) not in STEERING and not _is_control(c))
    return "".join(kept)


def _is_control(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cs") and character not in "\n\t"


def words(value: Any) -> str:
    """A text of the user's in the page: escaped, and alone in its direction of writing."""
    return "" if value is None else f"<bdi>{escaped(value)}</bdi>"


def short(value: Any, length: int = SHORT) -> str:
    """A text for a drawing: escaped, at most so many characters."""
    text = " ".join(plain(value).split())
    return html.escape(text if len(text) <= length else text[: length - 1] + "…", quote=True)


def number(value: float | None, digits: int = 3, unit: str = "") -> str:
    """A number [unit] for people as HTML, in powers of ten where figures have them; "" for none."""
    if value is None:
        return ""
    if in_plain_figures(value, unit):
        text = f"{value:.{digits}g}"
        return f"{float(text):,.0f}" if "e" in text else text.replace("-", "−")
    mantissa, exponent = f"{value:.1e}".split("e")
    return f"{mantissa}×10<sup>{int(exponent)}</sup>".replace("-", "−")


def bare(value: float, digits: int = 3, unit: str = "") -> str:
    """The same in plain characters, for drawings: a tag of HTML would end one."""
    return tidy(float(f"{value:.{digits}g}"), unit)


def spoken(value: float | None, unit: str = "") -> str:
    """The same for labels read aloud and for titles in drawings, where there may be none."""
    return "none" if value is None else bare(value, unit=unit)


def listed(items: Iterable[str], kind: str = "ul") -> str:
    """A list of finished HTML; nothing for no items."""
    inner = "".join(f"<li>{item}</li>" for item in items)
    return f"<{kind}>{inner}</{kind}>" if inner else ""


def part(name: str, title: str, inner: str) -> str:
    """A section of the page with a heading that the table of contents points at.

    Where it shows numbers outside tables, a line says where each kind of them is checked.
    """
    shown = any(f"<{tag}" in inner for tag in ("svg", "li", "table"))
    checked = _checked(PARTS.get(name, ())) if shown else ""
    return (
        f'<section id="{escaped(name)}" aria-labelledby="{escaped(name)}-title">'
        f'<h2 id="{escaped(name)}-title">{escaped(title)}</h2>{inner}{checked}</section>\n'
    )


def _checked(topics: Sequence[str]) -> str:
    links = (f'<a href="#{anchor(t)}">{escaped(TOPICS[t])}</a>' for t in topics)
    said = "; ".join(links)
    return (
        f'<p class="checked">How the numbers of this part are checked: {said}.</p>' if said else ""
    )
