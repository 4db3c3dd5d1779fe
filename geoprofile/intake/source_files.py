"""Reads one source file into a frame, by its kind: text, workbook or vector file."""

from __future__ import annotations

import pandas as pd

from geoprofile.errors import DataError, Problem
from geoprofile.intake.ags4 import read_group
from geoprofile.intake.feet import places_in_metres
from geoprofile.intake.files import AGS4, VECTOR, WORKBOOK
from geoprofile.intake.frames import empty
from geoprofile.intake.profile_advice import with_keys
from geoprofile.intake.profiled import read_profiled
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.tables import read_sheet
from geoprofile.intake.text import read_text
from geoprofile.intake.waiting import without_waiting
from geoprofile.intake.workbook import read_workbook


def read_file(
    file: SourceFile,
    settings: SiteSettings,
    problems: list[Problem],
    notes: list[Problem] | None = None,
) -> pd.DataFrame:
    """The rows of a source file as a frame with `source_file` and `source_row`.

    Faults are added to `problems`; cells with a fault are empty in the frame. `notes` is told of
    planned rows that wait.
    """
    suffix = file.path.suffix.casefold()
    if suffix in VECTOR:
        from geoprofile.intake.vectors import read_vector

        made: pd.DataFrame = read_vector(file, settings, problems)
        return made
    faults: list[Problem] = []
    try:
        if file.profile is not None:
            frame = read_profiled(file, settings, faults)
        else:
            sheet = (
                read_group(file, [] if notes is None else notes)
                if suffix == AGS4
                else read_workbook(file.path, file.name, file.sheet)
                if suffix in WORKBOOK
                else read_text(file.path, file.name, settings)
            )
            sheet = without_waiting(sheet, file, [] if notes is None else notes)
            frame = read_sheet(sheet, file, settings, faults)
    except DataError as error:
        faults += error.problems
        frame = empty(file.table, ())
    if faults and file.profile is None and suffix != AGS4:
        faults = with_keys(faults, file, settings)
    problems += faults
    return places_in_metres(frame, settings) if file.table == "borehole" else frame
