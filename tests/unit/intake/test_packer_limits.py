"""A packer whose limits contradict each other is refused when it is loaded."""

from __future__ import annotations

from pathlib import Path

import pytest

from geoprofile import intake
from geoprofile.errors import DataErrors

HEAD = (
    "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,max_inflation_kpa,seating_pressure_kpa,"
    "element_length_m,pipe_inner_diameter_mm"
)
SOUND = (72, 76, 122, 1500, 350, 1, 38)


def read(folder: Path, numbers: tuple[float, ...]) -> intake.Intake:
    """The intake of one packer."""
    row = ",".join(f"{n:g}" for n in numbers)
    (folder / "packers.csv").write_text(f"{HEAD}\nP,{row}\n", encoding="utf-8")
    return intake.read_files(
        intake.find_files(folder), intake.SiteSettings(crs="EPSG:32632"), known={}
    )


def test_sound_limits_are_taken(tmp_path: Path) -> None:
    """Also where one equals the other: a packer for a single diameter."""
    assert len(read(tmp_path, SOUND).tables["packer"]) == 1
    assert len(read(tmp_path, (96, 96, 96, 350, 350, 1, 96)).tables["packer"]) == 1


@pytest.mark.parametrize(
    ("place", "value", "told"),
    [
        (1, 123, "min_hole_mm 123 above max_hole_mm 122"),
        (0, 77, "deflated_diameter_mm 77 above min_hole_mm 76"),
        (4, 1501, "seating_pressure_kpa 1501 above max_inflation_kpa 1500"),
        (6, 73, "pipe_inner_diameter_mm 73 above deflated_diameter_mm 72"),
    ],
)
def test_impossible_limits_are_refused(place: int, value: float, told: str, tmp_path: Path) -> None:
    """Each pair, with both numbers."""
    numbers = list(SOUND)
    numbers[place] = value
    with pytest.raises(DataErrors, match=told):
        read(tmp_path, tuple(numbers))
