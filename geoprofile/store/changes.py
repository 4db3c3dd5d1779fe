"""What a command wants stored, and what was stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from geoprofile.store.marks import Marks

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Changes:
    """Everything one command writes; all of it is stored, or none of it.

    Parameters
    ----------
    command : str
        The command, for the list of runs.
    settings, inputs : mapping
        Settings by step and fingerprints of the inputs, for the list of runs and each layer's
        metadata; those of a step are kept beside its fingerprint.
    figures : mapping, optional
        Key figures of the site as computed, for the list of runs.
    started_at : str
        Start of the command, ISO 8601 in UTC.
    upserts : mapping of table to frame
        Rows to insert or, where the key exists, to update in the columns that the frame has. In a
        table with a `batch` column, rows of the same batch that the frame lacks are deleted.
    deletes : mapping of table to keys
        Keys of rows to delete; a key of fewer columns deletes every row that begins with it.
    derived : mapping of table to frame
        Whole derived tables in the columns of the schema, without `run`.
    steps : mapping of step to fingerprint
        What each layer was computed from.
    findings : frame, optional
        What `steps_that_found` found, in the columns of `finding` without `run`; it takes the place
        of what they found before, and leaves what others found.
    found_in : sequence of str, optional
        Only findings on these tables are replaced.
    seen : Marks, optional
        What all this rests on; nothing is stored if it is no longer so.
    is_whole_load : bool
        Whether, after this load, the input tables are as loaded.
    loaded, source_files : frame, optional
        Rows of the tables of the same names, inserted or updated by key.
    site : mapping, optional
        The settings as a whole: name, vertical_datum, and the settings of each step. Settings that
        it lacks are removed; the CRS cannot change.
    """

    command: str
    settings: Mapping[str, Any] = field(default_factory=dict)
    inputs: Mapping[str, Any] = field(default_factory=dict)
    figures: Mapping[str, Any] | None = None
    started_at: str | None = None
    upserts: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    deletes: Mapping[str, Sequence[tuple[Any, ...]]] = field(default_factory=dict)
    derived: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    steps: Mapping[str, str] = field(default_factory=dict)
    loaded: pd.DataFrame | None = None
    source_files: pd.DataFrame | None = None
    site: Mapping[str, Any] | None = None
    findings: pd.DataFrame | None = None
    steps_that_found: Sequence[str] = ()
    found_in: Sequence[str] | None = None
    seen: Marks | None = None
    is_whole_load: bool = True


@dataclass(frozen=True)
class WriteReport:
    """What was stored: the run's number, rows per table, remarks for the user, and fingerprints."""

    run: int
    rows: Mapping[str, int]
    remarks: tuple[str, ...] = ()
    marks: Marks = field(default_factory=Marks)
