"""A sheet stays where drawing it again would give the same files, and only there."""

from __future__ import annotations

import errno
from pathlib import Path

import numpy as np
import pytest
import shapely

from geoprofile.drawing import redrawn
from geoprofile.drawing.people import Shown, shown_in
from geoprofile.drawing.redrawn import drawing_aside, drawn_ahead, unless_there
from geoprofile.remembered import remembering

SHOWN = {"a": np.arange(3.0), "b": ({"shape": shapely.box(0, 0, 1, 1), "round": None},)}


class Sheet:
    """Draws two files and counts how often."""

    def __init__(self, folder: Path) -> None:
        """In a folder."""
        self.stem, self.count = folder / "sheet", 0

    def draw(self, place: Path) -> tuple[Path, ...]:
        """Write both."""
        self.count += 1
        place.parent.mkdir(parents=True, exist_ok=True)
        files = (place.with_suffix(".png"), place.with_suffix(".svg"))
        for file in files:
            file.write_text(f"drawn as {file.suffix}", encoding="utf-8")
        return files

    def ask(self, shown: object = SHOWN, *, again: bool = False) -> int:
        """Ask for it in a run of its own; how often it was drawn for that."""
        before = self.count
        with remembering(self.stem.parent, again=again):
            found = unless_there(self.stem, ("png", "svg"), shown, self.draw)
        assert [f.read_text(encoding="utf-8") for f in found] == ["drawn as .png", "drawn as .svg"]
        return self.count - before


@pytest.fixture
def sheet(tmp_path):
    """Drawn once."""
    one = Sheet(tmp_path)
    assert one.ask() == 1
    return one


def test_the_same_is_not_drawn_again(sheet):
    """Equal content, be it other objects, leaves the files alone."""
    other = {"b": ({"round": None, "shape": shapely.box(0, 0, 1, 1)},), "a": np.arange(3.0)}
    assert sheet.ask(other) == 0


@pytest.mark.parametrize(
    "shown",
    [
        SHOWN | {"a": np.array([0.0, 1.0, np.nextafter(2.0, 3.0)])},
        SHOWN | {"b": ({"shape": shapely.box(0, 0, 1, 1.5), "round": None},)},
        SHOWN | {"b": ({"shape": shapely.box(0, 0, 1, 1), "round": ""},)},
        SHOWN | {"c": 1},
    ],
)
def test_whatever_is_shown_counts(sheet, shown):
    """The last bit of a number, a corner of a shape, a text, one thing more."""
    assert sheet.ask(shown) == 1


def test_a_file_that_is_not_what_was_written_is_drawn(sheet):
    """Deleted, changed, or a link: each is put right."""
    picture = sheet.stem.with_suffix(".png")
    picture.unlink()
    assert sheet.ask() == 1
    picture.write_text("somebody's", encoding="utf-8")
    assert sheet.ask() == 1
    other = picture.with_name("elsewhere.png")
    picture.rename(other)
    picture.symlink_to(other)
    assert sheet.ask() == 1


def test_other_code_libraries_or_units_draw_again(sheet, monkeypatch):
    """So does the wish to do everything anew; what was known stays known."""
    assert sheet.ask(again=True) == 1
    with shown_in(Shown({"m": "ft"})):
        assert sheet.ask() == 1
    with monkeypatch.context() as patch:
        patch.setattr("geoprofile.remembered._code", lambda package: "other code")
        assert sheet.ask() == 1
    monkeypatch.setattr(redrawn, "_libraries", lambda: ("0.1",))
    assert sheet.ask() == 1


def test_what_has_no_digest_is_always_drawn(sheet):
    """Rather too often than wrongly not at all."""
    assert sheet.ask({"a": object()}) == 1
    assert sheet.ask({"a": object()}) == 1


def test_without_a_memory_all_is_drawn(sheet):
    """Single commands have none."""
    unless_there(sheet.stem, ("png", "svg"), SHOWN, sheet.draw)
    assert sheet.count == 2


def test_a_sheet_drawn_ahead_takes_its_place(tmp_path):
    """Nothing changes in the place until it is asked for; then it is not drawn again, nor later."""
    sheet, aside = Sheet(tmp_path / "out"), tmp_path / "aside"
    with drawing_aside(aside):
        assert unless_there(sheet.stem, ("png", "svg"), SHOWN, sheet.draw) == ()
    assert sheet.count == 1
    assert not sheet.stem.parent.exists()
    with drawn_ahead(aside):
        assert sheet.ask() == 0
    assert not [file for file in aside.rglob("*") if file.is_file()]
    assert sheet.ask() == 0


def test_a_sheet_drawn_ahead_of_something_else_stays_aside(sheet, tmp_path):
    """The same sheet of other numbers, or in other units, is drawn."""
    aside = tmp_path / "aside"
    with drawing_aside(aside):
        unless_there(sheet.stem, ("png", "svg"), SHOWN | {"c": 1}, sheet.draw)
        with shown_in(Shown({"m": "ft"})):
            unless_there(sheet.stem, ("png", "svg"), SHOWN | {"c": 2}, sheet.draw)
        unless_there(sheet.stem, ("png", "svg"), {"a": object()}, sheet.draw)
    with drawn_ahead(aside):
        assert sheet.ask(SHOWN | {"c": 2}) == 1
        assert sheet.ask({"a": object()}) == 1
        assert sheet.ask(SHOWN | {"c": 1}) == 0


def test_what_is_there_is_not_drawn_ahead(sheet, tmp_path):
    """Nor is half of a sheet taken."""
    aside = tmp_path / "aside"
    with remembering(sheet.stem.parent), drawing_aside(aside):
        unless_there(sheet.stem, ("png", "svg"), SHOWN, sheet.draw)
    assert sheet.count == 1
    with drawing_aside(aside):
        unless_there(sheet.stem, ("png", "svg"), SHOWN | {"c": 1}, sheet.draw)
    next(aside.rglob("*.svg")).unlink()
    with drawn_ahead(aside):
        assert sheet.ask(SHOWN | {"c": 1}) == 1


def test_a_place_on_another_disk_is_drawn_in(sheet, tmp_path, monkeypatch):
    """Where no file can be moved to."""
    aside = tmp_path / "aside"
    with drawing_aside(aside):
        unless_there(sheet.stem, ("png", "svg"), SHOWN | {"c": 1}, sheet.draw)
    with monkeypatch.context() as patch, drawn_ahead(aside):

        def refuse(*_: object) -> None:
            raise OSError(errno.EXDEV, "Invalid cross-device link")

        patch.setattr(Path, "replace", refuse)
        unless_there(sheet.stem, ("png", "svg"), SHOWN | {"c": 1}, sheet.draw)
    assert sheet.count == 3
