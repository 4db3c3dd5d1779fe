"""Every table and column as data: what intake, database, dictionary and docs follow."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.schema.derived import DERIVED
from geoprofile.schema.inputs import INPUT
from geoprofile.schema.system import SYSTEM
from geoprofile.schema.table import OFFSET, Column, Table

SCHEMA_VERSION = 4
TABLES: Mapping[str, Table] = {t.name: t for t in (*INPUT, *DERIVED, *SYSTEM)}

__all__ = ["DERIVED", "INPUT", "OFFSET", "SCHEMA_VERSION", "SYSTEM", "TABLES", "Column", "Table"]
