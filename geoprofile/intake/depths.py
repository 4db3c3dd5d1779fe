"""Depths from the measuring point to depths from ground; and the boreholes that rows belong to."""

from __future__ import annotations

from collections.abc import Mapping, Set

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.intake.inputs import DEPTHS
from geoprofile.intake.problems import place, tell
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW, SiteSettings


def lookup(keys: pd.Series, table: pd.DataFrame, key: str, column: str) -> pd.Series:
    """Values of a column of `table` for keys; missing where the key is not there."""
    if table.empty or column not in table.columns:
        return pd.Series([None] * len(keys), index=keys.index, dtype="object")
    values = table.drop_duplicates(key).set_index(key)[column]
    return keys.map(values.to_dict())


def numbers_of(
    keys: pd.Series,
    table: pd.DataFrame,
    key: str,
    column: str,
) -> NDArray[np.float64]:
    """The same as an array of numbers, NaN where the key or the value is missing."""
    found = pd.to_numeric(lookup(keys, table, key, column), errors="coerce")
    return found.to_numpy(dtype=np.float64, na_value=np.nan)


def to_ground(
    frame: pd.DataFrame,
    table: str,
    holes: NDArray[np.object_] | pd.Series,
    boreholes: pd.DataFrame,
    settings: SiteSettings,
) -> pd.DataFrame:
    """The frame with every depth from ground, and without the column `depth_from`.

    A depth from a measuring point h above ground is h larger than the depth from ground; along an
    inclined hole h is taken along the hole.
    """
    above = _from_above(frame, settings)
    frame = frame.drop(columns="depth_from")
    if not above.any():
        return frame
    keys = pd.Series(np.asarray(holes, dtype=object), index=frame.index)
    heights = np.nan_to_num(numbers_of(keys, boreholes, "borehole", "measuring_point_height_m"))
    shift = np.where(above, heights, 0.0)
    return frame.assign(**{c: frame[c].to_numpy(dtype=float) - shift for c in DEPTHS[table]})


def _from_above(frame: pd.DataFrame, settings: SiteSettings) -> NDArray[np.bool_]:
    """Which rows count their depths from the measuring point, such as the top of the casing."""
    said = frame["depth_from"].where(frame["depth_from"].notna(), settings.depth_from)
    return np.asarray(said.isin(("measuring point", "top of casing")).to_numpy(), dtype=bool)


def check_heights(
    frame: pd.DataFrame,
    holes: pd.Series,
    unknown: Set[str],
    settings: SiteSettings,
    problems: list[Problem],
) -> None:
    """Tell depths from a top of casing whose height nobody gave."""
    above = _from_above(frame, settings) & holes.isin(unknown).to_numpy()
    names = holes.to_numpy()
    files, rows = frame[SOURCE_FILE].to_numpy(), frame[SOURCE_ROW].to_numpy()
    of_above = pd.Series(names, dtype="object").where(above, None)
    bad = np.flatnonzero(above & ~of_above.duplicated().to_numpy())
    tell(
        problems,
        [int(i) for i in bad],
        lambda i: place(str(files[i]), int(rows[i])),
        lambda i: (
            f"depths from the measuring point of borehole {names[i]}, whose height is not given",
            "measuring_point_height_m of the borehole (height of the top of casing above ground)",
            "Fill it in the table of boreholes, 0 if it is level with the ground; or say "
            'depth_from = "ground".',
        ),
    )


def with_known(
    incoming: Mapping[str, pd.DataFrame], known: Mapping[str, pd.DataFrame], table: str, key: str
) -> pd.DataFrame:
    """Rows of a table as they will be: those of the files, then those of the database."""
    new, old = incoming.get(table), known.get(table)
    parts = [f for f in (new, old) if f is not None and len(f)]
    if not parts:
        return pd.DataFrame({key: pd.Series([], dtype="object")})
    if len(parts) == 1:
        return pd.DataFrame(parts[0])
    shared = [c for c in parts[0].columns if c in parts[1].columns and c != "geometry"]
    kept = parts[1].loc[~parts[1][key].isin(set(parts[0][key]))]
    if kept.empty:
        return pd.DataFrame(parts[0])
    return pd.DataFrame({c: [*parts[0][c].tolist(), *kept[c].tolist()] for c in shared})
