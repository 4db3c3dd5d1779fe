"""Headings over one row or several, as one name per column."""

from __future__ import annotations

from collections.abc import Sequence


def joined(rows: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    """Headings over one row or several; a cell merged over columns counts for each of them."""
    width = max(map(len, rows), default=0)
    parts: list[list[str]] = []
    for number, row in enumerate(rows):
        cells = [" ".join(c.split()) for c in row] + [""] * (width - len(row))
        if number < len(rows) - 1:
            for i in range(1, width):
                cells[i] = cells[i] or cells[i - 1]
        parts.append(cells)
    names = [" ".join(filter(None, column)) for column in zip(*parts, strict=True)]
    while names and not names[-1]:
        names.pop()
    seen: dict[str, int] = {}
    for i, name in enumerate(names):
        count = seen[name] = seen.get(name, 0) + 1
        if name and count > 1:
            names[i] = f"{name} ({count})"
    return tuple(names)
