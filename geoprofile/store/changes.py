"""What a command wants stored, and what was stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

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


@dataclass(frozen=True)
class WriteReport:
    """What was stored: the number of the run, rows per table written, and remarks for the user."""

    run: int
    rows: Mapping[str, int]
    remarks: tuple[str, ...] = ()
