"""Geometry blobs of a GeoPackage: a header with CRS number and envelope, then well-known binary.

Source: OGC 12-128r17 (GeoPackage 1.3), clause 2.1.3, from memory.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MAGIC = b"GP"
LITTLE_ENDIAN, ENVELOPE_XY, EMPTY = 0x01, 0x02, 0x10
ENVELOPE_DOUBLES = {0: 0, 1: 4, 2: 6, 3: 6, 4: 8}
HEADER = struct.Struct("<2sBBi")
BOX = struct.Struct("<4d")

Box = tuple[float, float, float, float]


class BlobError(ValueError):
    """The bytes are no geometry blob."""


def header_length(blob: bytes) -> int:
    """Bytes before the well-known binary begins; BlobError when the header is none."""
    if len(blob) < HEADER.size or blob[:2] != MAGIC or blob[2] != 0:
        raise BlobError(f"starts with {blob[:4]!r}")
    doubles = ENVELOPE_DOUBLES.get((blob[3] >> 1) & 7)
    if doubles is None:
        raise BlobError("has an unknown envelope code")
    return HEADER.size + 8 * doubles


def encode(geometries: NDArray[np.object_], srs_id: int) -> list[bytes | None]:
    """Blobs of an array of shapely geometries, shape (n,); None stays None."""
    import numpy as np
    import shapely

    geometries = np.asarray(geometries, dtype=object)
    has_z = bool(np.any(shapely.has_z(geometries)))
    bodies = shapely.to_wkb(
        geometries, byte_order=1, flavor="iso", output_dimension=3 if has_z else 2
    )
    boxes = shapely.bounds(geometries)[:, [0, 2, 1, 3]]
    is_point = shapely.get_type_id(geometries) == 0
    return [
        None if body is None else _header(box, bool(point), srs_id) + body
        for body, box, point in zip(bodies, boxes.tolist(), is_point, strict=True)
    ]


def _header(box: list[float], is_point: bool, srs_id: int) -> bytes:
    if math.isnan(box[0]):
        return HEADER.pack(MAGIC, 0, LITTLE_ENDIAN | EMPTY, srs_id)
    if is_point:
        return HEADER.pack(MAGIC, 0, LITTLE_ENDIAN, srs_id)
    return HEADER.pack(MAGIC, 0, LITTLE_ENDIAN | ENVELOPE_XY, srs_id) + BOX.pack(*box)


def decode(blobs: Sequence[bytes | None]) -> NDArray[np.object_]:
    """Shapely geometries of blobs, shape (n,); None stays None, BlobError when one is no blob."""
    import numpy as np
    import shapely

    bodies = np.empty(len(blobs), dtype=object)
    bodies[:] = [None if blob is None else blob[header_length(blob) :] for blob in blobs]
    try:
        return np.asarray(shapely.from_wkb(bodies), dtype=object)
    except shapely.errors.GEOSException as error:
        raise BlobError(str(error)) from error


def bounds_of_blob(blob: object) -> Box | None:
    """(min x, max x, min y, max y) of a blob; None when it is empty, missing or no geometry."""
    if not isinstance(blob, bytes):
        return None
    try:
        start = header_length(blob)
        if blob[3] & EMPTY:
            return None
        if start > HEADER.size:
            order = "<" if blob[3] & LITTLE_ENDIAN else ">"
            return tuple(struct.unpack_from(f"{order}4d", blob, HEADER.size))
        return Walk(blob, start).box
    except (BlobError, struct.error):
        return None


class Walk:
    """A walk through well-known binary that keeps its type, dimensions, box and faults.

    `kind` is the base type number (1 point ... 7 collection), `has_z` and `has_m` its dimensions,
    `points` the number of vertices. BlobError when the bytes are no well-known binary.
    """

    def __init__(self, data: bytes, start: int = 0) -> None:
        self._data, self._at = data, start
        self.points = 0
        self.is_finite = True
        self.is_closed = True
        self._low = [math.inf, math.inf]
        self._high = [-math.inf, -math.inf]
        try:
            self.kind, self.has_z, self.has_m = self._geometry(0)
        except struct.error as error:
            raise BlobError("is cut short") from error
        if self._at != len(data):
            raise BlobError(f"has {len(data) - self._at} bytes too many")

    @property
    def box(self) -> Box | None:
        """(min x, max x, min y, max y); None without vertices."""
        if self.points == 0:
            return None
        return self._low[0], self._high[0], self._low[1], self._high[1]

    def _take(self, form: str) -> tuple[float, ...]:
        values = struct.unpack_from(form, self._data, self._at)
        self._at += struct.calcsize(form)
        return values

    def _count(self, order: str, least_bytes: int) -> int:
        count = int(self._take(f"{order}I")[0])
        if count * least_bytes > len(self._data) - self._at:
            raise BlobError("is cut short")
        return count

    def _geometry(self, depth: int) -> tuple[int, bool, bool]:
        if depth > 8:
            raise BlobError("is nested too deep")
        (mark,) = self._take("B")
        if mark not in (0, 1):
            raise BlobError(f"has the byte order {mark}")
        order = "<" if mark else ">"
        code = int(self._take(f"{order}I")[0])
        kind, dimensions = code % 1000, code // 1000
        if dimensions > 3 or not 1 <= kind <= 7:
            raise BlobError(f"has the type number {code}")
        width = 2 + (dimensions in (1, 3)) + (dimensions in (2, 3))
        self._parts(order, kind, width, depth)
        return kind, dimensions in (1, 3), dimensions in (2, 3)

    def _parts(self, order: str, kind: int, width: int, depth: int) -> None:
        if kind == 1:
            self._vertices(order, 1, width)
        elif kind == 2:
            self._vertices(order, self._count(order, 8 * width), width)
        elif kind == 3:
            for _ in range(self._count(order, 4)):
                self._ring(order, width)
        else:
            for _ in range(self._count(order, 9)):
                self._geometry(depth + 1)

    def _ring(self, order: str, width: int) -> None:
        count = self._count(order, 8 * width)
        size = 8 * width
        first = self._data[self._at : self._at + size]
        self._vertices(order, count, width)
        if count and (count < 4 or self._data[self._at - size : self._at] != first):
            self.is_closed = False

    def _vertices(self, order: str, count: int, width: int) -> None:
        values = self._take(f"{order}{count * width}d")
        if count == 1 and all(math.isnan(v) for v in values):
            return  # an empty point is written as NaN
        if not all(map(math.isfinite, values)):
            self.is_finite = False
        for axis in (0, 1):
            along = values[axis::width]
            if along:
                self._low[axis] = min(self._low[axis], *along)
                self._high[axis] = max(self._high[axis], *along)
        self.points += count
