"""The invented tables of the store's unit tests, for the fault tests."""

from __future__ import annotations

import importlib.util
from pathlib import Path

_path = Path(__file__).parents[1] / "unit" / "store" / "conftest.py"
_spec = importlib.util.spec_from_file_location("store_tables", _path)
_tables = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tables)

store, filled, edit, make = _tables.store, _tables.filled, _tables.edit, _tables.make
