"""Every table and column as data: what intake, database, dictionary and docs follow."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.schema.derived import DERIVED
from geoprofile.schema.field import FIELD
from geoprofile.schema.records import OFFSET, Column, Table
from geoprofile.schema.system import SYSTEM

SCHEMA_VERSION = 3
TABLES: Mapping[str, Table] = {t.name: t for t in (*FIELD, *DERIVED, *SYSTEM)}

__all__ = ["DERIVED", "FIELD", "OFFSET", "SCHEMA_VERSION", "SYSTEM", "TABLES", "Column", "Table"]
