"""How layout 1 told whether a loaded row had changed: kept to bring its files up to date.

It joined every cell of a row in the order of the columns, the empty ones too, so that each column
that joined the schema would have changed every fingerprint.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING

from geoprofile.schema import Table

if TYPE_CHECKING:
    import pandas as pd


def fingerprints(frame: pd.DataFrame, table: Table, names: Sequence[str]) -> dict[str, str]:
    """From the key of each row, or batch of rows, to its digest as layout 1 took it.

    `names` are the columns that layout 1 had of the table, in its order.
    """
    from geoprofile.intake.row_fingerprints import SEPARATOR, row_keys, shapes_of, texts_of

    if table.batch:
        return _of_batches(frame, table, names)
    cells = [texts_of(frame[n], table.column(n)) for n in names]
    if table.geometry:
        cells.append(shapes_of(frame, table))
    rows = (SEPARATOR.join(row).encode() for row in zip(*cells, strict=True))
    digests = [hashlib.sha256(row).hexdigest() for row in rows]
    return dict(zip(row_keys(frame, table.name), digests, strict=True))


def _of_batches(frame: pd.DataFrame, table: Table, names: Sequence[str]) -> dict[str, str]:
    from geoprofile.intake.row_fingerprints import SEPARATOR, stretch_of

    found = {}
    for batch, rows in frame.sort_values(list(table.key), kind="stable").groupby(table.batch):
        digest = hashlib.sha256()
        for name in (n for n in names if n != table.batch):
            cells = stretch_of(rows[name], table.column(name))
            digest.update(
                SEPARATOR.join(cells).encode() if isinstance(cells, list) else cells.tobytes()
            )
            digest.update(b"\x1e")
        found[str(batch)] = digest.hexdigest()
    return found
