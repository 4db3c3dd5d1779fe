"""Files corrupt at random in the ways that files are corrupt: bytes, cuts, repeats, nasty words."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

WORDS = (
    *(
        b"",
        b"\0",
        b"\n",
        b"\r\n",
        b",",
        b";",
        b"\t",
        b'"',
        b"'",
        b"#",
        b"\xef\xbb\xbf",
        b"\xff\xfe",
    ),
    *(b"NaN", b"inf", b"-1", b"0", b"1e308", b"1e999", b"-1e-320", b"9" * 40, b"0x10", b"1_0"),
    *(b"<0.5", b">1", b"<", b"ND", b"1,5", b"1.234,5", b"0001-01-01T00:00Z", b"9999-12-31T23:59Z"),
    *(b"2026-02-30", b"24:00", b"2026-06-01T10:00+99:00", b"A1", b"a1", b"=1+1", b"@x", b"../x"),
    *(b"POLYGON EMPTY", b"POLYGON ((0 0, 1 1, 0 0))", b"LINESTRING Z (0 0 0, 1 1 nan)", b"((" * 99),
    *(
        "\u202e\u200b\u0430\u00b5".encode(),
        b"\xc3\x28",
        b"{",
        b"}",
        b"[[[[[[",
        b"]",
        b"null",
        b"true",
    ),
    *(b"depth_ft", b"value_mg_per_l", b"measured_at", b"pressure_kpa", b"crs", b"EPSG:4326"),
    *(b"\x00\x00\x00\x00", b"\xff\xff\xff\xff", b"\x7f\xf0\x00\x00\x00\x00\x00\x00", b"GP\x00\x01"),
)
MOST = 4  # changes of one file


def mutated(content: bytes, rng: np.random.Generator) -> bytes:
    """The content with one to four changes."""
    made = bytearray(content)
    for _ in range(int(rng.integers(1, MOST + 1))):
        CHANGES[int(rng.integers(len(CHANGES)))](made, rng)
    return bytes(made)


def _span(content: bytearray, rng: np.random.Generator) -> tuple[int, int]:
    """A short piece of the content, sometimes a long one."""
    start = int(rng.integers(len(content) + 1))
    return start, min(start + int(2 ** rng.uniform(0, 10)), len(content))


def _flip(content: bytearray, rng: np.random.Generator) -> None:
    if content:
        content[int(rng.integers(len(content)))] ^= 1 << int(rng.integers(8))


def _overwrite(content: bytearray, rng: np.random.Generator) -> None:
    start, end = _span(content, rng)
    content[start:end] = rng.bytes(end - start)


def _cut(content: bytearray, rng: np.random.Generator) -> None:
    start, end = _span(content, rng)
    del content[start:end]


def _repeat(content: bytearray, rng: np.random.Generator) -> None:
    start, end = _span(content, rng)
    content[start:start] = content[start:end] * int(rng.integers(1, 20))


def _move(content: bytearray, rng: np.random.Generator) -> None:
    start, end = _span(content, rng)
    piece = content[start:end]
    del content[start:end]
    at = int(rng.integers(len(content) + 1))
    content[at:at] = piece


def _truncate(content: bytearray, rng: np.random.Generator) -> None:
    del content[int(rng.integers(len(content) + 1)) :]


def _word(content: bytearray, rng: np.random.Generator) -> None:
    at = int(rng.integers(len(content) + 1))
    content[at:at] = WORDS[int(rng.integers(len(WORDS)))]


def _cell(content: bytearray, rng: np.random.Generator) -> None:
    """A nasty word in the place of a cell."""
    at = content.find(b",", int(rng.integers(len(content) + 1)))
    end = min(
        (p for p in (content.find(b",", at + 1), content.find(b"\n", at + 1)) if p > 0), default=-1
    )
    if at >= 0 and end > at:
        content[at + 1 : end] = WORDS[int(rng.integers(len(WORDS)))]


CHANGES: tuple[Callable[[bytearray, np.random.Generator], None], ...] = (
    _flip,
    _overwrite,
    _cut,
    _repeat,
    _move,
    _truncate,
    _word,
    _cell,
    _cell,
)
