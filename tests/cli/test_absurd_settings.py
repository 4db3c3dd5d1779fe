"""Settings that no site needs end in a sentence, before memory is taken."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from geoprofile.budget import CELLS, afford_cells, afford_data, afford_draws, afford_levels
from geoprofile.errors import UsageError

ROOT = Path(__file__).parents[2]
GIB = 1 << 30

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there are no such limits")


FEW = [
    ("map", "map_band.cell_m=NaN"),
    ("map", "plume_extent.cell_m=1e-9"),
    ("map", "plume_extent.realisations=1000000000"),
    ("discharge", "discharge.plane_spacing_m=NaN"),
]
MORE = [
    ("map", "map_band.cell_m=1e-9"),
    ("map", "map_band.cell_m=0.01"),
    ("map", "map_band.cell_m=Infinity"),
    ("map", "map_band.elevations_m=[NaN]"),
    ("map", "map_band.depths_m=[1e300]"),
    ("section", "section.band_width_m=NaN"),
    ("discharge", "discharge.realisations=1000000000"),
]


@pytest.mark.parametrize(
    ("word", "setting"),
    [*FEW, *(pytest.param(*one, marks=pytest.mark.calibration) for one in MORE)],
)
def test_an_absurd_setting_is_refused_within_a_few_gigabytes(
    demo_run: Path, tmp_path: Path, word: str, setting: str
) -> None:
    """Exit 2, one sentence that names the setting or the number of cells, nothing stored."""
    path = Path(shutil.copy(demo_run / "site.gpkg", tmp_path / "site.gpkg"))
    before = path.read_bytes()
    answer = subprocess.run(
        [sys.executable, "-m", "geoprofile", word, str(path), "--set", setting],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (4 * GIB, 4 * GIB)),
    )
    assert answer.returncode == 2, answer.stderr
    assert answer.stderr.count("error: ") == 1
    assert "Traceback" not in answer.stderr
    assert path.read_bytes() == before


def test_the_least_cell_that_is_named_fits() -> None:
    """The width in the message is accepted, and is no more than a few per cent too wide."""
    with pytest.raises(UsageError) as refused:
        afford_cells(1200.0, 800.0, 0.01)
    least = float(str(refused.value).split("least width that fits is ")[1].split(" m")[0])
    afford_cells(1200.0, 800.0, least)
    assert 1200 * 800 / least**2 > 0.7 * CELLS
    with pytest.raises(UsageError, match="realisations"):
        afford_draws(1000, 10**9)


@pytest.mark.parametrize(("afford", "most"), [(afford_levels, 2000), (afford_data, 11401)])
def test_levels_and_data_are_priced(afford: Callable[[int, object], None], most: int) -> None:
    """Maps of 10,000 nodes, and covariances of all data with each other: the most are named."""
    words = (10_000, most) if afford is afford_levels else (most, "a field of K")
    afford(*words)
    words = (10_000, most + 1) if afford is afford_levels else (most + 1, "a field of K")
    with pytest.raises(UsageError, match=f"{most} (levels|data) fit"):
        afford(*words)
