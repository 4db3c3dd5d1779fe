"""What the site file knows of its copies: each row that each was given, and what came back."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING

from geoprofile.fieldcopy.merging import Record, Records
from geoprofile.fieldcopy.rows import Key
from geoprofile.schema import INPUT
from geoprofile.store import Store

if TYPE_CHECKING:
    import pandas as pd

MARK = "field_copy"  # the setting by which a copy is known, and the table of what is known
READ = (*(t.name for t in INPUT), MARK)  # what a copy rests on, and what comes back is merged into


def states_of(states: Sequence[tuple[str, str, Key, int, Record]]) -> pd.DataFrame:
    """Records of rows of copies as the table keeps them: mark, table, key, number, record."""
    import pandas as pd

    rows = [
        {
            "copy": mark,
            "source_table": name,
            "row_key": json.dumps(list(key)),
            "number": number,
            "state": json.dumps(asdict(record)),
        }
        for mark, name, key, number, record in states
    ]
    return pd.DataFrame(rows)


def records_of(store: Store) -> dict[tuple[str, Key], Records]:
    """What is known of the rows of every copy."""
    found: dict[tuple[str, Key], Records] = {}
    columns = ["source_table", "row_key", "number", "state"]
    for name, key, number, state in store.rows(MARK, columns):
        if name:
            place = (str(name), tuple(json.loads(key)))
            found.setdefault(place, {})[int(number)] = Record(**json.loads(state))
    return found


def mark_of(number: int, numbers: Mapping[str, int]) -> str:
    """The mark of the copy of a number."""
    return next(mark for mark, n in numbers.items() if n == number)
