"""Blank templates: complete, explained, and read back as empty tables."""

from __future__ import annotations

import csv

import pytest

from geoprofile import intake
from geoprofile.errors import UsageError
from geoprofile.schema import INPUT


def test_templates_load_as_empty_tables(tmp_path):
    """Every template read as it stands is a table without rows and without complaint."""
    intake.write_templates(tmp_path)
    (tmp_path / "site.toml").write_text('crs = "EPSG:32632"\n', encoding="utf-8")
    files = intake.find_files(tmp_path)
    read = intake.read_files(files, intake.read_settings(tmp_path), {})
    assert set(read.tables) == {t.name for t in INPUT}
    assert all(frame.empty for frame in read.tables.values())


def test_every_column_is_explained(tmp_path):
    """The dictionary has a row with a meaning for every column of every template."""
    written = intake.write_templates(tmp_path)
    with (tmp_path / "columns.csv").open(encoding="utf-8", newline="") as handle:
        said = {(r["file"], r["column"]): r["meaning"] for r in csv.DictReader(handle)}
    for path in written:
        if path.suffix != ".csv" or path.name == "columns.csv":
            continue
        for column in path.read_text(encoding="utf-8").strip().split(","):
            assert said[(path.name, column)]


def test_nothing_is_overwritten_unasked(tmp_path):
    """A filled table is kept unless overwriting is asked for; site.toml is always kept."""
    intake.write_templates(tmp_path)
    (tmp_path / "boreholes.csv").write_text("mine", encoding="utf-8")
    (tmp_path / "site.toml").write_text("# mine", encoding="utf-8")
    with pytest.raises(UsageError, match="overwrite"):
        intake.write_templates(tmp_path)
    assert (tmp_path / "boreholes.csv").read_text(encoding="utf-8") == "mine"
    intake.write_templates(tmp_path, overwrite=True)
    assert (tmp_path / "boreholes.csv").read_text(encoding="utf-8") != "mine"
    assert (tmp_path / "site.toml").read_text(encoding="utf-8") == "# mine"
