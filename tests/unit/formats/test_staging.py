"""Files appear whole or not at all."""

from pathlib import Path

import pytest

from geoprofile.errors import DataErrors, UsageError
from geoprofile.formats._staging import REPORT, write_format
from geoprofile.plugins import Format, Loss, Written


def _plugin(*, fails=False, losses=()):
    def write(site, folder, settings):
        (Path(folder) / "a.txt").write_text("new")
        if fails:
            raise OSError("disk full")
        return Written(("a.txt",), losses)

    return Format("plain", "A text", ".txt", write)


def test_nothing_is_overwritten_unasked(awkward_site, tmp_path):
    """The old file stays until --overwrite."""
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(UsageError, match="--overwrite"):
        write_format(_plugin(), awkward_site, tmp_path, {})
    assert (tmp_path / "a.txt").read_text() == "old"
    write_format(_plugin(), awkward_site, tmp_path, {}, overwrite=True)
    assert (tmp_path / "a.txt").read_text() == "new"


def test_a_failure_leaves_nothing(awkward_site, tmp_path):
    """Neither the file nor the folder it was written in."""
    with pytest.raises(Exception, match="disk full"):
        write_format(_plugin(fails=True), awkward_site, tmp_path, {})
    assert list(tmp_path.iterdir()) == []


def test_strict_makes_a_loss_an_error(awkward_site, tmp_path):
    """Every loss is told, and no file is left."""
    losses = (Loss("a.txt", "cut", "one"), Loss("a.txt", "rounded", "two"))
    with pytest.raises(DataErrors) as caught:
        write_format(_plugin(losses=losses), awkward_site, tmp_path, {}, strict=True)
    assert len(caught.value.problems) == 2
    assert list(tmp_path.iterdir()) == []


def test_the_loss_report_lies_beside_the_file(awkward_site, tmp_path):
    """One line for each loss."""
    write_format(_plugin(losses=(Loss("a.txt", "cut", "one"),)), awkward_site, tmp_path, {})
    assert (tmp_path / REPORT).read_text() == "a.txt: cut: one\n"
