"""Files to checked tables: every file, then what needs several tables, then the checks across."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from geoprofile.errors import DataErrors, Problem
from geoprofile.intake.barometer import air_of
from geoprofile.intake.checks import check_all, where
from geoprofile.intake.coordinates import check_places, crs_problems
from geoprofile.intake.depths import check_heights, lookup, to_ground, with_known
from geoprofile.intake.far_shapes import check_far_shapes
from geoprofile.intake.feet import in_metres, told
from geoprofile.intake.files import READINGS
from geoprofile.intake.gases import convert_parts
from geoprofile.intake.inputs import DEPTHS
from geoprofile.intake.merging import FILES
from geoprofile.intake.names import BAROMETER, without_table
from geoprofile.intake.old_names import old_names
from geoprofile.intake.outliers import check_far_holes
from geoprofile.intake.problems import tell
from geoprofile.intake.profiled import REMARK
from geoprofile.intake.readings import to_displacement
from geoprofile.intake.reissues import settle_reissues
from geoprofile.intake.samples import check_samples, plain_kinds
from geoprofile.intake.shapes import check_shapes
from geoprofile.intake.source_files import read_file
from geoprofile.intake.sources import SOURCE_FILE, Intake, SiteSettings, SourceFile
from geoprofile.plugins import Progress, no_progress
from geoprofile.plugins.registry import offered
from geoprofile.schema import INPUT, TABLES, Table, renamed
from geoprofile.units import concentration_unit, unit_advice

Frames = dict[str, pd.DataFrame]


def read_files(
    files: Sequence[SourceFile],
    settings: SiteSettings,
    known: Mapping[str, pd.DataFrame],
    progress: Progress | None = None,
) -> Intake:
    """Checked tables from source files.

    Parameters
    ----------
    files : Sequence of SourceFile
        As found by `find_files`.
    settings : SiteSettings
        The site's declarations.
    known : Mapping of table to frame
        Rows already in the database, to which rows may refer.
    progress : Progress, optional
        Told the bytes read.

    Returns
    -------
    Intake
        A frame per table for which there is a file, in SI-based units of the schema.

    Raises
    ------
    DataErrors
        Every fault of every file; nothing is returned then.
    """
    settings = in_metres(settings)
    problems = crs_problems(settings.crs)
    waiting: list[Problem] = []
    frames = _read_all(files, settings, problems, waiting, progress or no_progress)
    _refuse(problems)
    notes: list[Problem] = [*old_names(files), *_present_methods(frames), *waiting]
    notes += [] if settings.coordinate_m == 1.0 else [told(settings)]
    remarks = {f.name: r for f in files if (r := _remark(frames, f))}
    tables = _finished(frames, settings, known, problems, notes)
    # a fault in one row brings others with it: columns come first, then rows among each other
    _refuse(problems)
    check_all(tables, known, problems)
    _refuse(problems)
    readings = _readings(frames, tables, settings, known, problems, notes)
    _refuse(problems)
    if readings is not None:
        tables["reading"] = readings
        check_all({"reading": readings}, {**known, **tables}, problems)
        _refuse(problems)
    ordered = {t.name: tables[t.name] for t in INPUT if t.name in tables}
    shaped = {n: _shaped(f, TABLES[n], settings.crs) for n, f in ordered.items()}
    for name, frame in shaped.items():
        frame.attrs[FILES] = tuple(f.name for f in files if f.table == name)
    by_file = {f.name: f.table for f in files}
    return Intake(shaped, tuple(notes), by_file, _counts(frames), remarks)


def _remark(frames: Frames, file: SourceFile) -> str:
    """What the header block of a file says of it, where a profile asked for it."""
    said = frames[file.table].attrs.get(REMARK, {})
    return str(said.get(file.name, "")) if isinstance(said, dict) else ""


def _present_methods(frames: Frames) -> list[Problem]:
    """Give methods of an earlier layout their present names, and say so."""
    frame = frames.get("test")
    if frame is None or "method" not in frame:
        return []
    old = sorted(set(frame["method"].dropna()) & set(renamed.METHODS))
    if old:
        frames["test"] = frame.assign(method=frame["method"].replace(dict(renamed.METHODS)))
    return [
        Problem(
            "tests, column method",
            f"the earlier name '{name}', read as {renamed.METHODS[name]}",
            f"{renamed.METHODS[name]}",
            "Rename it in the file when convenient.",
        )
        for name in old
    ]


def _counts(frames: Frames) -> dict[str, int]:
    """Rows read by file."""
    counts = pd.concat([f[SOURCE_FILE] for f in frames.values()] or [pd.Series([], dtype="object")])
    return {str(name): int(n) for name, n in counts.value_counts().items()}


def _refuse(problems: list[Problem]) -> None:
    if problems:
        raise DataErrors(problems)


def _read_all(
    files: Sequence[SourceFile],
    settings: SiteSettings,
    problems: list[Problem],
    notes: list[Problem],
    progress: Progress,
) -> Frames:
    parts: dict[str, list[pd.DataFrame]] = {}
    remarks: dict[str, str] = {}
    total, done = sum(f.size for f in files), 0
    for file in files:
        frame = read_file(file, settings, problems, notes)
        if said := frame.attrs.pop(REMARK, ""):
            remarks[file.name] = said
        if file.table == "sample":
            frame = _with_plain_kinds(frame)
            check_samples(frame, problems)
        if file.table == "reading":
            frame = _named_after_file(frame, file)
        parts.setdefault(file.table, []).append(frame)
        done += file.size
        progress(done, total)
    made = {name: _stacked(frames) for name, frames in parts.items()}
    for frame in made.values():
        frame.attrs[REMARK] = remarks
    return made


def _stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [f for f in frames if len(f)]
    if not filled:
        return frames[0]
    if len(filled) == 1:
        return filled[0].reset_index(drop=True)
    columns = list(dict.fromkeys(c for f in filled for c in f.columns))
    return pd.concat([f.reindex(columns=columns) for f in filled], ignore_index=True)


def _named_after_file(frame: pd.DataFrame, file: SourceFile) -> pd.DataFrame:
    """Readings without a column `test` belong to the test after which the file is named."""
    if frame["test"].notna().all():
        return frame
    words = {} if file.profile is None else file.profile.values.get("test", {})
    name = file.path.stem if READINGS in file.name.split("/") else without_table(file.path.stem)
    name = words.get(file.path.stem, name)
    named = frame.assign(test=frame["test"].where(frame["test"].notna(), name))
    named.attrs.update(frame.attrs)
    return named


def _finished(
    frames: Frames,
    settings: SiteSettings,
    known: Mapping[str, pd.DataFrame],
    problems: list[Problem],
    notes: list[Problem],
) -> Frames:
    """Tables other than readings, with defaults, depths from ground, shapes and units in order."""
    tables = {n: f for n, f in frames.items() if n not in (BAROMETER, "reading")}
    unknown = _without_height(tables)
    tables = {n: _with_defaults(f, TABLES[n]) for n, f in tables.items()}
    if "result" in tables:
        samples = with_known(tables, known, "sample", "sample")
        tables["result"] = convert_parts(tables["result"], samples, problems)
        tables = settle_reissues(tables, known, problems, notes)
    for name in [n for n in tables if n in DEPTHS]:
        holes = with_known(tables, known, "borehole", "borehole")
        of = tables[name]["borehole"]
        check_heights(tables[name], of, unknown, settings, problems)
        tables[name] = to_ground(tables[name], name, of, holes, settings)
    for name in [n for n in ("area", "section_line") if n in tables]:
        tables[name] = check_shapes(tables[name], name, problems, settings.coordinate_m)
    if "criterion" in tables:
        tables["criterion"] = _criterion_units(tables["criterion"], problems)
    if "borehole" in tables:
        before = len(problems)
        check_places(tables["borehole"], settings.crs, problems)
        if len(problems) == before and not settings.allow_far_holes:
            check_far_holes(tables["borehole"], known.get("borehole"), settings.crs, problems)
    for name in [n for n in ("area", "section_line") if n in tables]:
        check_far_shapes(tables[name], with_known(tables, known, "borehole", "borehole"), problems)
    return tables


def _without_height(tables: Frames) -> set[str]:
    """Boreholes of the files of which nobody said how high their measuring point is."""
    if "borehole" not in tables:
        return set()
    holes = tables["borehole"]
    return set(holes.loc[holes["measuring_point_height_m"].isna(), "borehole"].dropna())


def _with_plain_kinds(samples: pd.DataFrame) -> pd.DataFrame:
    kinds, types = plain_kinds(list(samples["kind"]))
    blank = pd.Series(types, index=samples.index, dtype="object")
    return samples.assign(
        kind=pd.Series(kinds, index=samples.index, dtype="object"),
        blank_type=samples["blank_type"].where(samples["blank_type"].notna(), blank),
    )


def _with_defaults(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    filled = {
        c.name: frame[c.name].where(frame[c.name].notna(), c.default)
        for c in table.columns
        if c.default is not None and c.name in frame.columns
    }
    return frame.assign(**filled)


def _criterion_units(frame: pd.DataFrame, problems: list[Problem]) -> pd.DataFrame:
    units = frame["unit"].map(concentration_unit)
    said = frame["unit"].to_numpy()
    bad = [int(i) for i in np.flatnonzero(units.isna())]
    tell(
        problems,
        bad,
        lambda i: where(frame, i, "unit"),
        lambda i: (f"the unknown unit '{said[i]}'", "mass per volume", unit_advice(said[i])),
    )
    return frame.assign(unit=units)


def _readings(
    frames: Frames,
    tables: Frames,
    settings: SiteSettings,
    known: Mapping[str, pd.DataFrame],
    problems: list[Problem],
    notes: list[Problem],
) -> pd.DataFrame | None:
    if "reading" not in frames:
        return None
    raw = frames["reading"]
    tests = with_known(tables, known, "test", "test")
    intervals = with_known(tables, known, "interval", "interval")
    holes = with_known(tables, known, "borehole", "borehole")
    check_all({"reading": _first_of_each(raw)}, {**known, **tables}, problems)
    if problems:
        return None
    of = lookup(lookup(raw["test"], tests, "test", "interval"), intervals, "interval", "borehole")
    raw = to_ground(raw, "reading", of, holes, settings)
    survey = with_known(tables, known, "survey", "borehole")
    intervals = offered("vertical_levels")(intervals, holes, survey)
    air = air_of(frames.get(BAROMETER))
    return to_displacement(raw, tests, intervals, holes, air, problems, notes)


def _first_of_each(raw: pd.DataFrame) -> pd.DataFrame:
    """One row per test: enough to tell tests that are not there."""
    return raw.drop_duplicates("test").assign(number=1)


def _shaped(frame: pd.DataFrame, table: Table, crs: str) -> pd.DataFrame:
    """The frame in the order and the types of the schema, the declared extra columns after."""
    columns: dict[str, Any] = {}
    for c in table.columns:
        values = frame[c.name]
        if c.kind == "integer":
            columns[c.name] = values.astype("Int64")
        elif c.kind == "real":
            columns[c.name] = values.astype("float64")
        elif c.kind == "boolean":
            columns[c.name] = values.astype("boolean")
        else:
            columns[c.name] = values.astype("object").where(values.notna(), None)
    own = (*columns, "wkt", "depth_from", "geometry")
    columns |= {c: frame[c] for c in frame.columns if c not in own}
    made = pd.DataFrame(columns)
    if table.geometry is None:
        return made
    import geopandas as gpd

    shaped: pd.DataFrame = gpd.GeoDataFrame(made, geometry=_shapes(frame, table), crs=crs)
    return shaped


def _shapes(frame: pd.DataFrame, table: Table) -> Any:
    import geopandas as gpd

    if table.name != "borehole":
        return gpd.GeoSeries(frame["geometry"].to_list(), index=frame.index)
    return gpd.points_from_xy(frame["x"], frame["y"], frame["ground_elevation_m"])
