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
from geoprofile.schema import TABLES
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
    "packers": "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,"
    "seating_pressure_kpa,max_inflation_kpa,line_rating_kpa,pipe_inner_diameter_mm,gas_or_water\n"
    "P1,72,78,120,1,350,3000,4000,26.6,gas\nP2,40.5,45,70,0.75,300,2500,,,\n",
    "spacers": "spacer,open_length_m\nshort,1.5\nlong,5\n",
    "pipe_losses": "packer,flow_l_min,loss_kpa,length_m\nP1,10,4.2,45\nP1,20,15.75,45\n"
    "P1,30,33.1,45\n",
    "caliper": "borehole,depth_m,diameter_mm,remarks\nB,20,97.25,\nB,22.5,101,washed\nB,25,98,\n",
    "criteria": 'analyte,medium,value,unit,basis\nTCE,water,10,ug/L,"site permit, 2031"\n'
    "TCE,soil gas,2,mg/m3,site permit\n",
    "areas": 'name,kind,wkt\nyard,site,"POLYGON ((499900 5299900, 500200 5299900, '
    '500200.123456789 5300200, 499900 5300200, 499900 5299900))"\n',
    "section_lines": 'name,wkt\nA,"LINESTRING (500000 5300000, 500040.1 5300000.7)"\n',
    "intervals": "interval,borehole,top_m,bottom_m,isolation,packer,inflation_kpa,set_at,"
    "static_depth_m\nZ,B,20,25,straddle,P1,900,2031-05-01T07:00:00+02:00,6\n"
    "Y,B,30,31.5,straddle,,,,6\nS,C,20,22,screen,,,,\nX,B,34,36,straddle,P1,900,,6\n",
    "tests": "test,interval,kind,started_at,riser_diameter_mm,water_temperature_c,kv_kh\n"
    "T1,Z,constant head,2031-05-01T08:00:00Z,,10,1\n"
    "T2,Y,falling head,2031-05-01T12:00:00+02:00,50.8,10,1\n"
    "T3,X,constant head,2031-05-02T08:00:00Z,,10,1\n",
    "pressure_steps": "test,step,flow_l_min,minutes,zone_head_m,gauge_pressure_kpa,gauge_height_m\n"
    "T1,1,2.5,10,10.25,,\nT1,2,5.1,10,20,,\nT3,1,12.5,10,,150,1.1\nT3,2,24,10,,300,1.1\n",
    "step_flow": "test,step,elapsed_s,flow_l_min\nT1,1,60,2.75\nT1,1,300,2.6\nT1,1,600,2.5\n",
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
        "pressure_step", "water_level", "sample", "result", "packer", "spacer", "pipe_loss",
        "caliper", "step_flow", "criterion", "area", "section_line")  # fmt: skip


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
    """Rows in order, shapes as text with all their digits; places of points are columns."""
    shapes = frame["geometry"] if frame.columns[0] in ("name", "geometry") else None
    kept = [c for c in frame.columns if c not in ("run", "geometry")]
    plain = frame[kept].astype(object).where(frame[kept].notna(), None)
    if shapes is not None:
        plain = plain.assign(shape=[s.wkb_hex for s in shapes])
        kept.append("shape")
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


def test_a_group_of_somebody_else_is_not_taken_for_ours(
    sent: tuple[Path, Path], tmp_path: Path
) -> None:
    """A group that says another thing under the same name is left, and told."""
    text = sent[1].read_bytes().decode()
    foreign = tmp_path / "foreign.ags"
    foreign.write_bytes(text.replace('"Areas on the map"', '"Areas of disturbed soil"').encode())
    assert "AREA" not in dict(groups_of(foreign))
    site = tmp_path / "x.gpkg"
    done("create", str(site), "--crs", "EPSG:32632")
    assert "groups that are not read: AREA" in done("load", str(site), str(foreign))


def test_nothing_of_a_plain_site_is_lost(sent: tuple[Path, Path], tmp_path: Path) -> None:
    """Packers, pipe loss, caliper, criteria and shapes have groups that the file defines."""
    made = write(Store.open(sent[0]).read(), str(tmp_path), SETTINGS)
    inputs = {name for name, table in TABLES.items() if table.owner == "input"}
    assert [x for x in made.losses if x.where.split(",")[0] in inputs or x.where == "texts"] == []


def test_what_does_not_fit_is_told(awkward_site, tmp_path: Path) -> None:
    """Names beyond Latin-1, columns of the user's, tables without a group: losses; still valid."""
    made = write(awkward_site, str(tmp_path), SETTINGS)
    said = {x.where for x in made.losses}
    assert {"section_band", "borehole, own_note", "conductivity"} <= said
    assert groups_of(tmp_path / made.files[0])  # refuses a file that breaks a rule
