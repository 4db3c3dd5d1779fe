"""A small made-up site folder that loads without complaint, to be corrupt one file at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from geoprofile import intake
from geoprofile.errors import GeoprofileError, Problem

TABLES = {
    "site.toml": 'crs = "EPSG:32632"\nname = "made-up yard"\n',
    "boreholes.csv": (
        "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m,drilled_on\n"
        "B1,500010.5,5300020.25,101.5,0.5,30,2026-03-04\n"
        "B2,500080,5300040,102,0,25,\n"
    ),
    "intervals.csv": (
        "interval,borehole,top_m,bottom_m,isolation,static_depth_m\n"
        "B1-1,B1,5,8,straddle,3.2\n"
        "B1-2,B1,12,15,straddle,3.5\n"
        "B2-1,B2,20,25,below packer,\n"
    ),
    "tests.csv": (
        "test,interval,kind,started_at,riser_diameter_mm,water_temperature_c\n"
        "T1,B1-1,falling head,2026-05-05T10:00,38,10\n"
        "T2,B1-2,rising head,,38,10\n"
    ),
    "readings/T1.csv": "elapsed_s,displacement_m\n0,0.8\n1,0.7\n2,0.61\n4,0.5\n",
    "samples.csv": (
        "sample,interval,sampled_at,round\n"
        "S1,B1-1,2026-06-01T09:30,R1\n"
        "S2,B2-1,2026-06-01T11:00,R1\n"
    ),
    "results.csv": (
        "sample,analyte,value,unit,limit,qualifier\nS1,TCE,12.5,ug/L,0.5,\nS2,TCE,<0.5,ug/L,,\n"
    ),
}
Files = Mapping[str, str | bytes | None]


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Write the small site with some files replaced, added, or left out (None)."""

    def write(files: Files | None = None) -> Path:
        for name, content in {**TABLES, **(files or {})}.items():
            if content is None:
                continue
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return tmp_path

    return write


@pytest.fixture
def taken(folder: Callable[..., Path]) -> Callable[..., intake.Intake]:
    """Read the small site with some files replaced."""

    def read(files: Files | None = None) -> intake.Intake:
        place = folder(files)
        return intake.read_files(intake.find_files(place), intake.read_settings(place), {})

    return read


@pytest.fixture
def refused(folder: Callable[..., Path]) -> Callable[..., tuple[Problem, ...]]:
    """The problems for which the small site, with some files replaced, is refused."""

    def read(files: Files) -> tuple[Problem, ...]:
        place = folder(files)
        with pytest.raises(GeoprofileError) as caught:
            intake.read_files(intake.find_files(place), intake.read_settings(place), {})
        assert caught.value.exit_code == 1
        return caught.value.problems

    return read


@pytest.fixture
def one(refused: Callable[..., tuple[Problem, ...]]) -> Callable[..., Problem]:
    """The one problem, all four parts filled, for which the small site is refused."""

    def read(files: Files) -> Problem:
        problems = refused(files)
        assert len(problems) == 1, "\n".join(map(str, problems))
        (problem,) = problems
        assert all((problem.where, problem.found, problem.expected, problem.advice))
        return problem

    return read
