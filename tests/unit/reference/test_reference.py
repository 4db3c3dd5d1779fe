"""The reference follows the schema, the helps and the plugins."""

import pytest

from geoprofile.reference import FOLDER, pages
from geoprofile.schema import TABLES

PAGES = pages()


@pytest.mark.parametrize("name", PAGES)
def test_reference_is_fresh(name):
    """Each page is what the schema, helps and plugins say now; else run the writer."""
    written = (FOLDER / name).read_text(encoding="utf-8")
    assert written == PAGES[name], "stale: run `python -m geoprofile.reference`"


def test_every_column_is_in_the_reference():
    """Every table and column of the schema is there."""
    for table in TABLES.values():
        part = PAGES["tables.md"].split(f"### {table.name}: ")[1].split("\n### ")[0]
        for column in table.columns:
            assert f"| {column.name} |" in part or f"| **{column.name}** |" in part
