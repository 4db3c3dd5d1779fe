"""Proposals of zones of another length in a field plan."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from geoprofile.cli import cli

FILES = {
    "boreholes": "borehole,x,y,ground_elevation_m,depth_m\nB,500000,5300000,100,16\n",
    "construction": (
        "borehole,top_m,bottom_m,kind,diameter_mm\nB,0,4,casing,110\nB,4,16,open hole,96\n"
    ),
    "packers": (
        "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,seating_pressure_kpa,"
        "max_inflation_kpa\nP,70,76,130,1,200,2000\n"
    ),
    "water_levels": "borehole,measured_at,depth_to_water_m\nB,2030-05-01T10:00,5\n",
}


def planned(folder: Path, spacers: str) -> str:
    """What `plan` says of a hole with these open lengths on hand."""
    for name, text in {**FILES, "spacers": spacers}.items():
        (folder / f"{name}.csv").write_text(text)
    site = str(folder / "s.gpkg")
    paths = [str(folder / f"{n}.csv") for n in (*FILES, "spacers")]
    for words in (["create", site, "--crs", "EPSG:32632"], ["load", site, *paths]):
        done = CliRunner().invoke(cli, words)
        assert done.exit_code == 0, done.output
    done = CliRunner().invoke(
        cli, ["plan", site, "B", "--purpose", "hydraulic", "--folder", str(folder / "out")]
    )
    assert done.exit_code == 0, (done.output, done.exception)
    return done.output


def test_long_zones_are_proposed_with_their_reason(tmp_path: Path) -> None:
    """An open length of 6 m beside one of 2 m: a zone over three planned ones, and why."""
    told = planned(tmp_path, "spacer,open_length_m\nshort,2\nlong,6\n")
    assert "with open length long" in told
    assert "what skin and Kv/Kh add" in told


def test_missing_length_is_told(tmp_path: Path) -> None:
    """Only 2 m on hand: the plan says what would tell a skin from K."""
    assert "No open length of 4 m or more" in planned(tmp_path, "spacer,open_length_m\nshort,2\n")


def test_twice_five_feet_are_ten(tmp_path: Path) -> None:
    """A length on hand is not called missing by a rounding."""
    told = planned(tmp_path, "spacer,open_length_ft\nshort,5\nlong,10\n")
    assert "with open length long" in told
    assert "No open length" not in told
