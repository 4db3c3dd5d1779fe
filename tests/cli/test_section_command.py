"""Section lines that cannot be, through the real command: one clear message each."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]
ODD = {
    "far away": [[520000.0, 4986200.0], [520200.0, 4986200.0]],
    "knot": [
        [512320.0, 4986150.0],
        [512500.0, 4986250.0],
        [512500.0, 4986150.0],
        [512320.0, 4986250.0],
    ],
}


def written(path: Path, lines: dict[str, list[list[float]]]) -> None:
    """Section lines in a file of their own, in the demonstration's CRS."""
    drawn = json.loads(path.read_text())
    drawn["features"] = [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {"type": "LineString", "coordinates": corners},
        }
        for name, corners in lines.items()
    ]
    path.write_text(json.dumps(drawn))


def test_a_line_of_one_point_is_refused(demo_copy: Path, command: Command) -> None:
    """Both corners at one place: exit 1, the line named, nothing stored."""
    spot = [512400.0, 4986200.0]
    written(demo_copy / "section_lines.geojson", {"dot": [spot, spot]})
    answer = command("run", demo_copy)
    assert answer.returncode == 1
    assert "dot" in answer.stderr
    assert "two points or more" in answer.stderr
    assert "Traceback" not in answer.stderr
    assert not list(demo_copy.glob("*.gpkg*"))


@pytest.fixture(scope="module")
def odd(demo_run: Path, command: Command, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration with a line outside the site and one that crosses itself."""
    folder = tmp_path_factory.mktemp("odd") / "demo_site"
    shutil.copytree(demo_run, folder)
    written(folder / "section_lines.geojson", ODD)
    answer = command("load", folder / "site.gpkg", folder / "section_lines.geojson")
    assert answer.returncode == 0, answer.stderr
    return folder


def test_odd_lines_are_findings_and_stop_nothing(odd: Path, command: Command) -> None:
    """Outside the site: no field and why; crossing itself: drawn, with a note; exit 0."""
    answer = command("section", odd / "site.gpkg", "--quantity", "TCE", "--figures", odd / "drawn")
    assert answer.returncode == 0, answer.stderr
    assert "Traceback" not in answer.stderr
    listed = command("show", odd / "site.gpkg", "finding", "--format", "csv").stdout
    far = next(line for line in listed.splitlines() if "far away" in line)
    assert "outside the site area" in far
    assert any("knot" in line and "crosses itself" in line for line in listed.splitlines())
    assert len(list((odd / "drawn").glob("section_knot_tce.*"))) == 2


def test_a_section_outside_the_site_carries_no_mass(odd: Path, command: Command) -> None:
    """The discharge of a line with no ground to show has no row and no made-up number."""
    answer = command("discharge", odd / "site.gpkg", "--format", "csv")
    assert answer.returncode == 0, answer.stderr
    assert "far away" not in answer.stdout


@pytest.mark.parametrize(
    ("boreholes", "rule"), [("002", "two or more different points"), ("002,0O5", "boreholes")]
)
def test_a_section_through_too_few_or_unknown_boreholes_is_refused(
    odd: Path, command: Command, boreholes: str, rule: str
) -> None:
    """One borehole makes no line; an unknown one is named."""
    answer = command(
        "section", odd / "site.gpkg", "--through", boreholes, "--figures", odd / "none"
    )
    assert answer.returncode == 1
    assert rule in answer.stderr
    assert "Traceback" not in answer.stderr
