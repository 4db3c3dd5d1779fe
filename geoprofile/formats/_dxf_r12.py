"""The few sentences of DXF R12 that drawings of traces and sections take.

Source: Autodesk, DXF Reference, Release 12 group codes for POINT, TEXT, LINE, POLYLINE, VERTEX,
SEQEND and the LAYER table. From memory; the tests read the result with an independent library.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

NAME_LENGTH = 31
CLOSED, LINE_3D = 1, 8
Pair = tuple[int, object]


def layer_name(*parts: str) -> str:
    """A name that R12 allows: at most 31 of A-Z, 0-9, $, - and _."""
    plain = "_".join(re.sub(r"[^A-Z0-9$-]+", "_", p.upper()).strip("_") for p in parts if p)
    return plain[:NAME_LENGTH] or "0"


def plain_text(text: str) -> str:
    r"""One line of ASCII; others as \U+ and four digits, which CAD programs show as they were."""
    line = " ".join(text.split())
    return "".join(c if 32 <= ord(c) < 127 else _escaped(c) for c in line)


def _escaped(character: str) -> str:
    pairs = character.encode("utf-16-be", errors="replace")
    halves = (pairs[i : i + 2].hex().upper() for i in range(0, len(pairs), 2))
    return "".join(f"\\U+{half}" for half in halves)


class Drawing:
    """Entities of one drawing, written in the order in which they were added."""

    def __init__(self) -> None:
        self._layers: dict[str, int] = {"0": 7}
        self._entities: list[Pair] = []
        self._low = [float("inf")] * 3
        self._high = [float("-inf")] * 3

    def point(self, layer: str, at: Sequence[float]) -> None:
        """A point in 3D."""
        self._start("POINT", layer)
        self._entities += self._place(10, at)

    def text(self, layer: str, at: Sequence[float], words: str, height: float) -> None:
        """A text that begins at a point."""
        self._start("TEXT", layer)
        self._entities += [*self._place(10, at), (40, height), (1, plain_text(words))]

    def line(
        self, layer: str, vertices: Iterable[Sequence[float]], *, closed: bool = False
    ) -> None:
        """A polyline in 3D."""
        self._start("POLYLINE", layer)
        flags = LINE_3D | (CLOSED if closed else 0)
        self._entities += [(66, 1), (10, 0.0), (20, 0.0), (30, 0.0), (70, flags)]
        for vertex in vertices:
            self._start("VERTEX", layer)
            self._entities += [*self._place(10, vertex), (70, 32)]
        self._start("SEQEND", layer)

    def document(self) -> str:
        """The drawing as text."""
        pairs = [*self._header(), *self._tables(), (0, "SECTION"), (2, "ENTITIES")]
        pairs += [*self._entities, (0, "ENDSEC"), (0, "EOF")]
        return "".join(f"{code:>3}\r\n{_value(value)}\r\n" for code, value in pairs)

    def _start(self, kind: str, layer: str) -> None:
        self._layers.setdefault(layer, 1 + len(self._layers) % 6)
        self._entities += [(0, kind), (8, layer)]

    def _place(self, code: int, at: Sequence[float]) -> list[Pair]:
        x, y, z = (*at, 0.0)[:3]
        for axis, value in enumerate((x, y, z)):
            self._low[axis] = min(self._low[axis], value)
            self._high[axis] = max(self._high[axis], value)
        return [(code, float(x)), (code + 10, float(y)), (code + 20, float(z))]

    def _header(self) -> list[Pair]:
        low, high = (self._low, self._high) if self._entities else ([0.0] * 3, [0.0] * 3)
        corners = [
            (name, [(10, e[0]), (20, e[1]), (30, e[2])])
            for name, e in (("$EXTMIN", low), ("$EXTMAX", high))
        ]
        head: list[Pair] = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009")]
        for name, values in corners:
            head += [(9, name), *values]
        return [*head, (0, "ENDSEC")]

    def _tables(self) -> list[Pair]:
        found: list[Pair] = [(0, "SECTION"), (2, "TABLES")]
        found += [(0, "TABLE"), (2, "LTYPE"), (70, 1), (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0)]
        found += [(3, "Solid line"), (72, 65), (73, 0), (40, 0.0), (0, "ENDTAB")]
        found += [(0, "TABLE"), (2, "LAYER"), (70, len(self._layers))]
        for name, colour in self._layers.items():
            found += [(0, "LAYER"), (2, name), (70, 0), (62, colour), (6, "CONTINUOUS")]
        return [*found, (0, "ENDTAB"), (0, "ENDSEC")]


def _value(value: object) -> str:
    return f"{value:.6f}" if isinstance(value, float) else str(value)
