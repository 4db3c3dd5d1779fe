"""Checks that need more than one row: keys, references, depths, construction, spelling of ids."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.intake.depths import numbers_of, with_known
from geoprofile.intake.packer_limits import check_packers
from geoprofile.intake.problems import place, shown, tell
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW
from geoprofile.schema import TABLES, Column, Table

Frames = Mapping[str, pd.DataFrame]
SLACK_M = 0.005  # a hole and its lowest interval are often rounded differently
# letters of other alphabets that look like Latin ones
LOOKS = str.maketrans("АВЕКМНОРСТХаеорсухАΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTXaeopcyxAABEZHIKMNOPTYX")


def check_all(incoming: Frames, known: Frames, problems: list[Problem]) -> None:
    """Tell everything that is wrong across rows and tables."""
    for name, frame in incoming.items():
        table = TABLES[name]
        if frame.empty:
            continue
        _keys(frame, table, problems)
        _spelling(frame, table, known, problems)
        for column in table.columns:
            if column.references:
                _references(frame, table, column, incoming, known, problems)
        _depths(frame, table, incoming, known, problems)
    if "attachment" in incoming:
        _paths(incoming["attachment"], problems)
    if "construction" in incoming:
        _overlaps(incoming["construction"], ["borehole", "kind"], "construction", problems)
    if "packer" in incoming:
        check_packers(incoming["packer"], where, problems)
    if "lithology" in incoming:
        _overlaps(incoming["lithology"], ["borehole"], "lithology", problems)


def _paths(frame: pd.DataFrame, problems: list[Problem]) -> None:
    """Tell attachments that do not lie in the site folder."""
    paths = [str(p) for p in frame["path"]]
    tell(
        problems,
        [i for i, p in enumerate(paths) if _leaves_folder(p)],
        lambda i: where(frame, i, "path"),
        lambda i: (
            shown(paths[i]),
            "a path within the site folder, such as photos/core_box.jpg",
            "Copy the file into the site folder and write its path from there.",
        ),
    )


def _leaves_folder(path: str) -> bool:
    return path.startswith("/") or "\\" in path or ":" in path or ".." in path.split("/")


def where(frame: pd.DataFrame, row: int, column: str = "") -> str:
    """The place of a row of a frame in its file."""
    files, rows = frame[SOURCE_FILE].to_numpy(), frame[SOURCE_ROW].to_numpy()
    return place(str(files[row]), int(rows[row]), column)


def _rows(mask: Any) -> list[int]:
    return [int(i) for i in np.flatnonzero(np.asarray(mask, dtype=bool))]


def _keys(frame: pd.DataFrame, table: Table, problems: list[Problem]) -> None:
    """Tell rows that repeat the key of a row before."""
    key = list(table.key)
    again = frame.duplicated(key, keep="first")
    if not again.any():
        return
    rows = _rows(again)
    firsts = frame[frame.duplicated(key, keep=False)].drop_duplicates(key)
    place_of = {
        tuple(k): where(firsts, i) for i, k in enumerate(firsts[key].astype("object").to_numpy())
    }
    values = frame[key].astype("object").to_numpy()

    def what(i: int) -> tuple[str, str, str]:
        said = ", ".join(shown(_plain(v)) for v in values[i] if not pd.isna(v))
        first = place_of.get(tuple(values[i]), "a row before")
        return (
            f"{said} a second time; first in {first}",
            f"each {' and '.join(key)} once",
            "Remove one of the rows, or correct its name.",
        )

    tell(problems, rows, lambda i: where(frame, i, key[0]), what)


def _plain(value: Any) -> Any:
    return f"{value:g}" if isinstance(value, float) else value


def _skeleton(text: str) -> str:
    """What a name looks like: without case, blanks and alphabet."""
    return unicodedata.normalize("NFKC", text).translate(LOOKS).casefold().replace(" ", "")


def _spelling(frame: pd.DataFrame, table: Table, known: Frames, problems: list[Problem]) -> None:
    """Tell names that differ from another only in case, blanks or look-alike letters."""
    column = "analyte" if table.name == "result" else table.key[0]
    if table.column(column).kind != "text" or (table.column(column).references):
        return
    old = known.get(table.name)
    names = [] if old is None or old.empty else [str(n) for n in old[column].dropna().unique()]
    seen: dict[str, str] = {_skeleton(n): n for n in names}
    firsts = frame[column].dropna().drop_duplicates()
    positions = {label: i for i, label in enumerate(frame.index)}
    for label, name in firsts.items():
        other = seen.setdefault(_skeleton(name), name)
        if other != name:
            problems.append(
                Problem(
                    where(frame, positions[label], column),
                    f"{shown(name)} beside {shown(other)}",
                    f"one spelling for one {column}",
                    "Use the same spelling in all rows, or names that differ clearly.",
                )
            )


def _references(
    frame: pd.DataFrame,
    table: Table,
    column: Column,
    incoming: Frames,
    known: Frames,
    problems: list[Problem],
) -> None:
    """Tell rows whose borehole, interval, test or sample is in no file and not in the database."""
    target = str(column.references)
    if target == table.name or column.name not in frame.columns:
        return
    key = TABLES[target].key[0]
    there = set(with_known(incoming, known, target, key)[key])
    values = frame[column.name]
    missing = values.notna() & ~values.isin(there)
    if not missing.any():
        return
    rows = _rows(missing)
    if table.batch == column.name:  # one message per batch, not per row
        rows = _rows(missing & ~values.duplicated())
    near = {_skeleton(str(n)): n for n in there}
    said = values.to_numpy()

    def what(i: int) -> tuple[str, str, str]:
        like = near.get(_skeleton(str(said[i])))
        hint = f"Did you mean {shown(like)}? Ids are compared letter by letter. " if like else ""
        return (
            f"the unknown {target.replace('_', ' ')} {shown(said[i])}",
            f"a {target.replace('_', ' ')} of the site",
            f"{hint}Correct the name, or add the {target.replace('_', ' ')} to its own table.",
        )

    tell(problems, rows, lambda i: where(frame, i, column.name), what)


def _depths(
    frame: pd.DataFrame, table: Table, incoming: Frames, known: Frames, problems: list[Problem]
) -> None:
    names = {c.name for c in table.columns}
    if table.name in ("survey", "borehole") and "depth_m" in names:
        _below_ground(frame, ["depth_m"], problems)
    if not {"top_m", "bottom_m"} <= names:
        if table.name == "survey":
            _within_hole(frame, "depth_m", incoming, known, problems)
        return
    _below_ground(frame, ["top_m", "bottom_m"], problems)
    top, bottom = frame["top_m"].to_numpy(dtype=float), frame["bottom_m"].to_numpy(dtype=float)
    tell(
        problems,
        _rows(bottom < top),
        lambda i: where(frame, i, "top_m"),
        lambda i: (
            f"top {top[i]:g} m below bottom {bottom[i]:g} m",
            "the top above the bottom, depths positive down the hole",
            "Swap the two values if they were exchanged, and check the sign.",
        ),
    )
    tell(
        problems,
        _rows(bottom == top),
        lambda i: where(frame, i, "bottom_m"),
        lambda i: (f"top and bottom both at {top[i]:g} m", "some length", "Correct the depths."),
    )
    _within_hole(frame, "bottom_m", incoming, known, problems)


def _below_ground(frame: pd.DataFrame, columns: list[str], problems: list[Problem]) -> None:
    """Tell depths that lie above ground once they are counted from it."""
    for column in columns:
        _above_ground(frame, column, problems)


def _above_ground(frame: pd.DataFrame, column: str, problems: list[Problem]) -> None:
    depth = frame[column].to_numpy(dtype=float)
    tell(
        problems,
        _rows(depth < 0),
        lambda i: where(frame, i, column),
        lambda i: (
            f"{depth[i]:g} m from ground, above it",
            "a depth of 0 or more",
            "Check depth_from and the height of the measuring point.",
        ),
    )


def _within_hole(
    frame: pd.DataFrame, column: str, incoming: Frames, known: Frames, problems: list[Problem]
) -> None:
    holes = with_known(incoming, known, "borehole", "borehole")
    ends = numbers_of(frame["borehole"], holes, "borehole", "depth_m")
    depth = frame[column].to_numpy(dtype=float)
    upside_down = np.zeros(len(frame), dtype=bool)
    if "top_m" in frame.columns:
        upside_down = frame["top_m"].to_numpy(dtype=float) > depth
    names = frame["borehole"].to_numpy()
    tell(
        problems,
        _rows((depth > ends + SLACK_M) & ~upside_down),
        lambda i: where(frame, i, column),
        lambda i: (
            f"{depth[i]:g} m, below the end of borehole {names[i]} at {ends[i]:g} m",
            "a depth within the hole",
            "Correct the depth, or depth_m of the borehole.",
        ),
    )


def _overlaps(frame: pd.DataFrame, by: list[str], table: str, problems: list[Problem]) -> None:
    """Tell rows of one hole (and kind) that begin above the end of the row before."""
    if frame.empty:
        return
    sound = frame[frame["bottom_m"] > frame["top_m"]]
    ordered = sound.sort_values([*by, "top_m", "bottom_m"], kind="stable")
    ends = ordered.groupby(by, dropna=False)["bottom_m"].transform(lambda s: s.cummax().shift())
    top, bottom = ordered["top_m"].to_numpy(dtype=float), ordered["bottom_m"].to_numpy(dtype=float)
    before: NDArray[np.float64] = ends.to_numpy(dtype=float)
    # a screen stands inside its pack and casings stand in one another: only equal diameters clash
    rows = _rows(top < before - SLACK_M)
    if table == "construction":
        rows = [i for i in rows if _same_pipe(ordered, i)]
    kinds = ordered[by[-1]].to_numpy()
    tell(
        problems,
        rows,
        lambda i: where(ordered, i, "top_m"),
        lambda i: (
            f"{kinds[i]} from {top[i]:g} to {bottom[i]:g} m, over a row that ends at "
            f"{before[i]:g} m",
            "rows that do not overlap",
            "Correct the depths of one of the two rows.",
        ),
    )


def _same_pipe(ordered: pd.DataFrame, row: int) -> bool:
    """Whether a row before it of the same hole and kind has the same diameter and reaches it."""
    this = ordered.iloc[row]
    rows = ordered.iloc[:row]
    same = (
        (rows["borehole"] == this["borehole"])
        & (rows["kind"] == this["kind"])
        & (rows["bottom_m"] > this["top_m"] + SLACK_M)
    )
    if this["kind"] not in ("casing", "riser"):
        return bool(same.any())
    return bool((same & (rows["diameter_mm"] == this["diameter_mm"])).any())
