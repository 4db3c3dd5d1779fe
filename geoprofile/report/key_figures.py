"""The figures of a site that a reader would compare between two runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from geoprofile.errors import not_drawn
from geoprofile.plugins.registry import asked_of_all
from geoprofile.site import Site

Value: TypeAlias = float | str
Figures: TypeAlias = Mapping[str, Mapping[str, Value]]
Row: TypeAlias = tuple[str, str, Value | None, Value | None, str]

ANGLES = ("azimuth_deg",)
DIGITS = 6  # kept of a number: more than any result has
FACTOR = 2.0  # [-] from here on a change is told as a factor


def key_figures(site: Site) -> tuple[dict[str, dict[str, Value]], list[str]]:
    """What the products offer to be compared: figures by name (with unit) and item.

    A product that fails costs its own figures and a line that says so.

    Parameters
    ----------
    site : Site
        With its derived tables.

    Returns
    -------
    tuple of dict of dict, and list of str
        Numbers in the unit that the name ends in, to six digits, or a text; what is missing is
        left out. Lines on products that failed.
    """
    found: dict[str, dict[str, Value]] = {}
    failed: list[str] = []
    for product, answer in asked_of_all("key_figures", site):
        try:
            if isinstance(answer, Exception):
                raise answer
            _add(found, answer)
        except Exception as error:  # of a package from anywhere
            failed.append(not_drawn(f"the key figures of {product}", error, "Not told"))
    return found, failed


def _add(found: dict[str, dict[str, Value]], told: Iterable[tuple[str, str, Any]]) -> None:
    for figure, item, value in told:
        if value is not None:
            kept = value if isinstance(value, str) else float(f"{float(value):.{DIGITS}g}")
            found.setdefault(figure, {})[item] = kept


def differences(before: Figures, after: Figures) -> list[Row]:
    """Every figure that differs."""
    rows: list[Row] = []
    for figure in dict.fromkeys((*before, *after)):
        old, new = before.get(figure, {}), after.get(figure, {})
        for item in dict.fromkeys((*old, *new)):
            first, second = old.get(item), new.get(item)
            if first != second:
                rows.append((figure, item, first, second, change(figure, first, second)))
    return rows


def change(figure: str, before: Value | None, after: Value | None) -> str:
    """A change in words: new, gone, another, a difference of angles, a factor or per cent."""
    if before is None or after is None:
        return "new" if before is None else "gone"
    if isinstance(before, str) or isinstance(after, str):
        return "another"
    if figure in ANGLES:
        return f"{(after - before + 180) % 360 - 180:+.3g} deg"
    if before <= 0 or after <= 0:
        return f"{after - before:+.3g}"
    factor = after / before
    if 1 / FACTOR < factor < FACTOR:
        return f"{100 * (factor - 1):+.2g} %"
    return f"x {factor:.3g}"


def words(before: Figures, after: Figures) -> list[str]:
    """One line for each figure that differs: how many items are new, gone, changed, alike."""
    rows = differences(before, after)
    lines = [
        _line(figure, [r for r in rows if r[0] == figure], before.get(figure, {}))
        for figure in dict.fromkeys(row[0] for row in rows)
    ]
    return lines or ["No key figure differs."]


def _line(figure: str, rows: list[Row], before: Mapping[str, Value]) -> str:
    new = [r for r in rows if r[2] is None]
    gone = [r for r in rows if r[3] is None]
    changed = [r for r in rows if r[2] is not None and r[3] is not None]
    counts = ((new, "new"), (gone, "gone"), (changed, "changed"))
    told = [f"{len(group)} {word}" for group, word in counts if group]
    alike = len(before) - len(gone) - len(changed)
    if alike:
        told.append(f"{alike} alike")
    line = f"{figure}: {', '.join(told)}"
    largest = max(changed, key=_size, default=None)
    if largest is None:
        return line + "."
    return (
        f"{line}; largest: {largest[1]}, {_told(largest[2])} to {_told(largest[3])}, {largest[4]}."
    )


def _size(row: Row) -> float:
    """How large a change is, for comparison within one figure."""
    before, after = row[2], row[3]
    if not isinstance(before, float) or not isinstance(after, float):
        return 0.0
    if before > 0 and after > 0 and row[0] not in ANGLES:
        return max(after / before, before / after)
    return abs(after - before)


def _told(value: Value | None) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)
