"""SHA-256 of rows, equal for a row in a file and the same row read from the database."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.schema import OFFSET, TABLES, Column, Table

SEPARATOR, NOTHING = "\x1f", "\x00"
UNKNOWN = ""  # in place of the fingerprint of a row that was edited before it could be taken


def row_keys(frame: pd.DataFrame, table: str) -> list[str]:
    """The key of each row (or of its batch) as text: the value, or a JSON list of several."""
    return _keys(frame, TABLES[table])


def _keys(frame: pd.DataFrame, table: Table) -> list[str]:
    names = _key_columns(table)
    columns = [_plain(frame[n]) if n in frame else [None] * len(frame) for n in names]
    if len(names) == 1:
        return [str(v) for v in columns[0]]
    return [json.dumps(row, ensure_ascii=False) for row in zip(*columns, strict=True)]


def key_tuples(frame: pd.DataFrame, table: str) -> dict[str, tuple[Any, ...]]:
    """From the key as text to the key as values."""
    names = _key_columns(TABLES[table])
    columns = [_plain(frame[n]) if n in frame else [None] * len(frame) for n in names]
    return dict(zip(row_keys(frame, table), zip(*columns, strict=True), strict=True))


def key_in_words(key: str, table: str) -> str:
    """A key for people: `TCE, soil gas`; parts that are empty are left out."""
    count = len(_key_columns(TABLES[table]))
    if count == 1 or not key.startswith("["):
        return key
    try:
        parts = json.loads(key)
    except json.JSONDecodeError:
        return key
    return ", ".join(str(p) for p in parts if p is not None) if len(parts) == count else key


def _key_columns(table: Table) -> tuple[str, ...]:
    return (table.batch,) if table.batch else table.key


def _plain(series: pd.Series[Any]) -> list[Any]:
    present = series.notna().tolist()
    return [v if ok else None for v, ok in zip(series.tolist(), present, strict=True)]


def fingerprint_rows(frame: pd.DataFrame, table: str, extra: Sequence[str] = ()) -> pd.Series[Any]:
    """SHA-256 of each row, or of each batch of a table that is loaded in batches.

    Empty cells do not count, so that a column that joins the schema changes no fingerprint.

    Parameters
    ----------
    frame : DataFrame
        Rows of the table.
    table : str
        Its name; columns that the schema lacks are left out.
    extra : Sequence of str
        But for these, which count too.

    Returns
    -------
    Series
        Digest, with the key of the row or batch as index, in the order of first appearance.
    """
    return fingerprint_as(frame, TABLES[table], extra)


def fingerprint_as(frame: pd.DataFrame, spec: Table, extra: Sequence[str] = ()) -> pd.Series[Any]:
    """As `fingerprint_rows`, by a table that the schema need not have, as of an earlier layout."""
    if frame.empty:
        return pd.Series([], index=pd.Index([], dtype="object"), dtype="object")
    columns = [c for c in spec.columns if c.name in frame.columns]
    # a time is the same however far from UTC its clock was
    columns = [c for c in columns if not c.name.endswith(OFFSET)]
    columns += [Column(name, "text", "", name) for name in extra if name in frame.columns]
    columns.sort(key=lambda c: c.name)
    if spec.batch:
        return _of_batches(frame, spec, columns)
    texts = {c.name: texts_of(frame[c.name], c) for c in columns}
    if spec.geometry:
        texts["geometry"] = shapes_of(frame, spec)
    digests = [_digest(texts, row) for row in zip(*texts.values(), strict=True)]
    return pd.Series(digests, index=pd.Index(_keys(frame, spec), dtype="object"))


def _digest(names: Iterable[str], row: Sequence[str]) -> str:
    cells = [f"{n}={v}" for n, v in zip(names, row, strict=True) if v != NOTHING]
    return hashlib.sha256(SEPARATOR.join(cells).encode()).hexdigest()


def texts_of(series: pd.Series[Any], column: Column) -> list[str]:
    """The cells of a column as text, the same for the same value."""
    if column.kind == "real":
        values = series.astype("float64").tolist()
        return [NOTHING if v != v else repr(v + 0.0) for v in values]
    if column.kind in ("integer", "boolean"):
        return [NOTHING if v is None else str(int(v)) for v in _plain(series)]
    return [NOTHING if v is None else _told(v) for v in _plain(series)]


def _told(value: Any) -> str:
    """A cell as text; a whole number that a GIS keeps as a real is the number of the file."""
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def shapes_of(frame: pd.DataFrame, table: Table) -> list[str]:
    """Shapes as hexadecimal WKB; a single part is the same as the shape it is a part of."""
    import shapely

    if "geometry" not in frame.columns:
        return [NOTHING] * len(frame)
    shapes = [
        s.geoms[0] if s is not None and hasattr(s, "geoms") and len(s.geoms) == 1 else s
        for s in frame["geometry"]
    ]
    flat: Literal[2, 3] = 2 if table.geometry and not table.geometry.endswith("Z") else 3
    return [
        NOTHING if s is None else shapely.to_wkb(s, hex=True, byte_order=1, output_dimension=flat)
        for s in shapes
    ]


def _of_batches(frame: pd.DataFrame, table: Table, columns: list[Column]) -> pd.Series[Any]:
    ordered = frame.sort_values(list(table.key), kind="stable")
    codes, names = pd.factorize(ordered[table.batch])
    # sorted by the batch first, so that each batch is one stretch of rows
    bounds = np.searchsorted(codes, np.arange(len(names) + 1))
    parts = {c.name: stretch_of(ordered[c.name], c) for c in columns if c.name != table.batch}
    digests = []
    for i in range(len(names)):
        digest = hashlib.sha256()
        for name, part in parts.items():
            _add(digest, name, part[bounds[i] : bounds[i + 1]])
        digests.append(digest.hexdigest())
    return pd.Series(digests, index=pd.Index([str(n) for n in names], dtype="object"))


def _add(digest: Any, name: str, stretch: NDArray[np.float64] | list[str]) -> None:
    """Add the cells of a column to a digest, unless all are empty."""
    if isinstance(stretch, np.ndarray):
        if np.isnan(stretch).all():
            return
        content = stretch.tobytes()
    else:
        if all(v == NOTHING for v in stretch):
            return
        content = SEPARATOR.join(stretch).encode()
    digest.update(b"%b=%b\x1e" % (name.encode(), content))


def stretch_of(series: pd.Series[Any], column: Column) -> NDArray[np.float64] | list[str]:
    """The cells of a column, numbers with one bit pattern for all that are missing."""
    if column.kind != "real":
        return texts_of(series, column)
    values = series.to_numpy(dtype=np.float64, na_value=np.nan) + 0.0
    values[np.isnan(values)] = np.nan
    return values
