"""Small helpers that layers share: rows to frames, findings, missing values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd

from geoprofile.errors import UsageError
from geoprofile.schema import TABLES
from geoprofile.site import empty_frame


def frame(name: str, rows: Sequence[Mapping[str, Any]], crs: str) -> pd.DataFrame:
    """Rows as a frame with exactly the table's columns, without `run`, typed as the schema says.

    Parameters
    ----------
    name : str
        Table of the schema.
    rows : Sequence of Mapping
        One mapping per row; a column that is not named is empty. `geometry` where there is one.
    crs : str
        CRS of the site.

    Returns
    -------
    DataFrame
        GeoDataFrame where the table has a geometry.
    """
    empty = empty_frame(name, crs).drop(columns="run", errors="ignore")
    if not rows:
        return empty
    columns = {c: [row.get(c) for row in rows] for c in empty.columns if c != "geometry"}
    typed = pd.DataFrame({c: pd.Series(v, dtype=empty[c].dtype) for c, v in columns.items()})
    table = TABLES[name]
    if table.geometry is None:
        return typed
    import geopandas as gpd

    shapes = [row.get("geometry") for row in rows]
    plane = None if table.plane == "section" else crs
    spatial: pd.DataFrame = gpd.GeoDataFrame(typed, geometry=gpd.GeoSeries(shapes, crs=plane))
    return spatial


def finding(
    source_table: str, row_key: str, what: str, *, what_to_do: str, severity: str = "warning"
) -> dict[str, str]:
    """One row for the table `finding`.

    Parameters
    ----------
    source_table, row_key : str
        What is concerned.
    what, what_to_do : str
        In words.
    severity : str
        note, warning or serious.

    Returns
    -------
    dict
        Columns of the table, without `step` and `run`.
    """
    return {
        "source_table": source_table,
        "row_key": row_key,
        "what": what,
        "severity": severity,
        "what_to_do": what_to_do,
    }


def known_names(setting: str, names: Sequence[str], known: Sequence[str]) -> list[str]:
    """The names that a setting gives, in our order; an unknown one is refused.

    Raises
    ------
    UsageError
        A name that is not known.
    """
    layer, _, key = setting.partition(".")
    for name in names:
        if name not in known:
            raise UsageError(
                layer,
                f"{key} '{name}'",
                f"some of {', '.join(known)}",
                f"Correct {key} under [{layer}] in site.toml.",
            )
    return [name for name in known if name in names]


def number(value: Any) -> float | None:
    """A float, or None where the cell is empty."""
    return None if value is None or pd.isna(value) else float(value)


def text(value: Any) -> str | None:
    """A text, or None where the cell is empty."""
    return None if value is None or pd.isna(value) or value == "" else str(value)


def joined(parts: Iterable[str]) -> str | None:
    """Sentences joined with '; ', or None when there are none; repeats are dropped."""
    unique = tuple(dict.fromkeys(p for p in parts if p))
    return "; ".join(unique) or None
