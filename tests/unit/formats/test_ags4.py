"""AGS4: the standard's own checker finds nothing, and a new site from the file is the same."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.errors import DataErrors
from geoprofile.formats.ags4 import PLUGIN, write
from geoprofile.intake.ags4 import groups_of
from geoprofile.store import Store

pytest.importorskip("python_ags4.AGS4")
SETTINGS = {s.name: s.default for s in PLUGIN.settings}
ELAPSED = np.round(np.linspace(0.0, 300.0, 41), 3)
FILES = {
    "boreholes": "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m,drilled_on,"
    'remarks\nB,500000.25,5300000.5,100.125,0.5,40,2031-02-03,"a ""quoted"" word"\n'
    "C,500040,5300000,101,,35,,\n",
    "surveys": "borehole,depth_m,inclination_deg,azimuth_deg\nB,0,2,110\nB,20,3.5,118\n",
    "construction": "borehole,top_m,bottom_m,kind,diameter_mm\nB,0,4,casing,110\n"
    "B,4,40,open hole,96\nC,0,20,riser,50\nC,20,22,screen,50\nC,0,18,seal,150\n",
    "lithology": "borehole,top_m,bottom_m,unit,description\nB,0,12,sand,Fine SAND\nB,12,40,rock,\n",
    "intervals": "interval,borehole,top_m,bottom_m,isolation,inflation_kpa,static_depth_m\n"
    "Z,B,20,25,straddle,900,6\nY,B,30,31.5,straddle,,6\nS,C,20,22,screen,,\n",
    "tests": "test,interval,kind,started_at,riser_diameter_mm,water_temperature_c,kv_kh\n"
    "T1,Z,constant head,2031-05-01T08:00:00Z,,10,1\n"
    "T2,Y,falling head,2031-05-01T10:00:00Z,50.8,10,1\n",
    "pressure_steps": "test,step,flow_l_min,minutes,zone_head_m\n"
    "T1,1,2.5,10,10.25\nT1,2,5.1,10,20\n",
    "readings": "test,elapsed_s,displacement_m\n"
    + "".join(f"T2,{t},{0.7 * np.exp(-t / 60):.6f}\n" for t in ELAPSED),
    "water_levels": "borehole,interval,measured_at,depth_to_water_m\n"
    "B,,2031-05-01T07:00:00Z,6.21\nC,S,2031-05-01T07:30:00Z,5.875\n",
    "samples": "sample,interval,sampled_at,round,kind,medium,purged_l\n"
    "s1,S,2031-05-02T09:00:00Z,one,primary,water,30\n",
    "results": "sample,analyte,cas,value,unit\ns1,Chloride,16887-00-6,12.5,mg/L\n"
    "s1,TCE,79-01-6,<0.5,ug/L\n",
}
SAME = ("borehole", "survey", "construction", "lithology", "interval", "test", "reading",
        "pressure_step", "water_level", "sample", "result")  # fmt: skip


def done(*words: str) -> str:
    """A command that must succeed."""
    answer = CliRunner().invoke(cli, list(words))
    assert answer.exit_code == 0, (answer.output, answer.exception)
    return answer.output


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A site with K, and the file made of it."""
    folder = tmp_path_factory.mktemp("ags4")
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text)
    site = folder / "s.gpkg"
    done("create", str(site), "--crs", "EPSG:32632")
    done("load", str(site), *(str(folder / f"{n}.csv") for n in FILES))
    done("conductivity", str(site))
    out = folder / "out"
    out.mkdir()
    made = write(Store.open(site).read(), str(out), SETTINGS)
    return site, out / made.files[0]


def test_the_checker_of_the_standard_finds_nothing(sent: tuple[Path, Path]) -> None:
    """No rule is broken by the edition's own dictionary."""
    assert groups_of(sent[1])  # refuses a file that breaks a rule


def test_a_new_site_has_the_same_tables_and_the_same_k(
    sent: tuple[Path, Path], tmp_path: Path
) -> None:
    """Every column that the file carries comes back, and K to the last digit."""
    new = tmp_path / "new.gpkg"
    done("create", str(new), "--crs", "EPSG:32632")
    done("load", str(new), str(sent[1]))
    done("conductivity", str(new))
    first, second = Store.open(sent[0]).read(), Store.open(new).read()
    for name in SAME:
        old, back = (_plain(s.table(name)) for s in (first, second))
        pd.testing.assert_frame_equal(old, back, check_dtype=False, obj=name)
    k = [
        s.table("conductivity").sort_values(["test", "method"])["k_m_per_s"]
        for s in (first, second)
    ]
    assert len(k[0]) > 2
    assert list(k[0]) == list(k[1])


def _plain(frame: pd.DataFrame) -> pd.DataFrame:
    """Rows in order, without what the file says it cannot carry: the offset of a time."""
    kept = [c for c in frame.columns if not c.endswith("_offset") and c not in ("run", "geometry")]
    plain = frame[kept].astype(object).where(frame[kept].notna(), None)
    return plain.sort_values(kept, key=lambda s: s.astype(str)).reset_index(drop=True)


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('"DATA","B","500000.250', '"DATA","B","five', "group LOCA"),
        ('"GEOL_TOP"', '"GEOL_TIP"', "group GEOL"),
        ('"GROUP","TRAN"', '"GROUP","TRAM"', "group TRA"),
        ('"DATA","B","Z"', '"DATA","Q","Z"', "group MONG"),
    ],
)
def test_every_broken_rule_is_told_with_line_and_group(
    sent: tuple[Path, Path], tmp_path: Path, old: str, new: str, where: str
) -> None:
    """A wrong number, an unknown heading, an orphan: refused with rule, line and group."""
    text = sent[1].read_bytes().decode()
    assert old in text
    bad = tmp_path / "bad.ags"
    bad.write_bytes(text.replace(old, new).encode())
    site = tmp_path / "x.gpkg"
    done("create", str(site), "--crs", "EPSG:32632")
    answer = CliRunner().invoke(cli, ["load", str(site), str(bad)])
    assert isinstance(answer.exception, DataErrors)
    said = str(answer.exception)
    assert where in said
    assert "AGS Format Rule" in said
    assert "bad.ags line" in said


def test_what_does_not_fit_is_told(awkward_site, tmp_path: Path) -> None:
    """Names beyond Latin-1, columns of the user's, tables without a group: losses; still valid."""
    made = write(awkward_site, str(tmp_path), SETTINGS)
    said = {x.where for x in made.losses}
    assert {"section_band", "area", "borehole, own_note", "conductivity"} <= said
    assert groups_of(tmp_path / made.files[0])  # refuses a file that breaks a rule
