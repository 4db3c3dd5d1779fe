"""AGS4 files of other programs: the standard's own headings, read where they leave no doubt."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.errors import DataErrors
from geoprofile.store import Store

pytest.importorskip("python_ags4.AGS4")
# group -> heading: unit, type
HEADS = {
    "PROJ": {"PROJ_ID": ("", "ID"), "PROJ_NAME": ("", "X")},
    "TRAN": {
        "TRAN_ISNO": ("", "X"), "TRAN_DATE": ("yyyy-mm-dd", "DT"), "TRAN_PROD": ("", "X"),
        "TRAN_STAT": ("", "X"), "TRAN_AGS": ("", "X"), "TRAN_RECV": ("", "X"),
        "TRAN_DLIM": ("", "X"), "TRAN_RCON": ("", "X"),
    },
    "LOCA": {
        "LOCA_ID": ("", "ID"), "LOCA_NATE": ("m", "2DP"), "LOCA_NATN": ("m", "2DP"),
        "LOCA_GL": ("m", "2DP"), "LOCA_FDEP": ("m", "2DP"),
    },
    "HDIA": {"LOCA_ID": ("", "ID"), "HDIA_DPTH": ("m", "2DP"), "HDIA_DIAM": ("mm", "0DP")},
    "GEOL": {
        "LOCA_ID": ("", "ID"), "GEOL_TOP": ("m", "2DP"), "GEOL_BASE": ("m", "2DP"),
        "GEOL_DESC": ("", "X"), "GEOL_LEG": ("", "PA"),
    },
    "MONG": {
        "LOCA_ID": ("", "ID"), "MONG_ID": ("", "X"), "MONG_DIS": ("m", "2DP"),
        "MONG_TYPE": ("", "PA"), "MONG_TRZ": ("m", "2DP"), "MONG_BRZ": ("m", "2DP"),
    },
    "MOND": {
        "LOCA_ID": ("", "ID"), "MONG_ID": ("", "X"), "MONG_DIS": ("m", "2DP"),
        "MOND_DTIM": ("yyyy-mm-ddThh:mm", "DT"), "MOND_TYPE": ("", "PA"), "MOND_REF": ("", "X"),
        "MOND_RDNG": ("", "XN"), "MOND_UNIT": ("", "PU"),
    },
    "FGHG": {
        "LOCA_ID": ("", "ID"), "FGHG_TOP": ("m", "2DP"), "FGHG_BASE": ("m", "2DP"),
        "FGHG_TESN": ("", "X"), "FGHG_DATE": ("yyyy-mm-dd", "DT"), "FGHG_TYPE": ("", "PA"),
        "FGHG_CNFG": ("", "PA"), "FGHG_PRWL": ("m", "2DP"), "FGHG_IPRM": ("m/s", "1SCI"),
    },
    "FGHS": {
        "LOCA_ID": ("", "ID"), "FGHG_TOP": ("m", "2DP"), "FGHG_BASE": ("m", "2DP"),
        "FGHG_TESN": ("", "X"), "FGHS_STG": ("", "0DP"),
        "FGHS_STTM": ("yyyy-mm-ddThh:mm:ss", "DT"), "FGHS_ENTM": ("yyyy-mm-ddThh:mm:ss", "DT"),
        "FGHS_HEAD": ("m", "2DP"), "FGHS_FLOW": ("l/min", "2DP"),
    },
    "SAMP": {
        "LOCA_ID": ("", "ID"), "SAMP_TOP": ("m", "2DP"), "SAMP_REF": ("", "X"),
        "SAMP_TYPE": ("", "PA"), "SAMP_ID": ("", "ID"), "SAMP_DTIM": ("yyyy-mm-ddThh:mm", "DT"),
    },
    "ABBR": {"ABBR_HDNG": ("", "X"), "ABBR_CODE": ("", "X"), "ABBR_DESC": ("", "X")},
}  # fmt: skip
STAGE = ("BH1", "20.00", "25.00", "1")
DATA = {
    "PROJ": [("P1", "Invented works")],
    "TRAN": [("1", "2031-06-01", "A driller", "Final", "4.1.1", "A client", "|", "+")],
    "LOCA": [
        ("BH1", "500000.00", "5300000.00", "100.00", "40.00"),
        ("BH2", "500040.00", "5300000.00", "101.00", "30.00"),
    ],
    "HDIA": [("BH1", "40.00", "96"), ("BH1", "4.00", "140"), ("BH2", "30.00", "146")],
    "GEOL": [("BH1", "0.00", "12.00", "Fine SAND", "X1"), ("BH1", "12.00", "40.00", "", "X2")],
    "MONG": [("BH2", "P1", "20.00", "SPIE", "18.00", "22.00")],
    "MOND": [
        ("BH2", "P1", "20.00", "2031-05-01T10:00", "WDEP", "", "5.87", "m"),
        ("BH2", "P1", "20.00", "2031-05-02T10:00", "WDEP", "", "Dry", "m"),
        ("BH2", "P1", "20.00", "2031-05-02T10:00", "TEMP", "", "11.5", "DegC"),
    ],
    "FGHG": [
        (*STAGE, "2031-05-02", "WATER PRESSURE", "PKD", "6.00", "1.2E-07"),
        ("BH1", "30.00", "32.00", "2", "2031-05-03", "CONSTANT FLOW RATE", "PKD", "6.00", ""),
    ],
    "FGHS": [
        (*STAGE, "1", "2031-05-02T08:00:00", "2031-05-02T08:10:00", "10.25", "2.50"),
        (*STAGE, "2", "2031-05-02T08:10:00", "2031-05-02T08:20:00", "20.00", "5.10"),
    ],
    "SAMP": [("BH2", "20.00", "1", "EW", "S1", "2031-05-03T09:00")],
    "ABBR": [
        ("GEOL_LEG", "X1", "Sand"), ("GEOL_LEG", "X2", "Limestone"),
        ("MONG_TYPE", "SPIE", "Standpipe piezometer"), ("MOND_TYPE", "WDEP", "Depth to water"),
        ("MOND_TYPE", "TEMP", "Temperature"), ("FGHG_TYPE", "WATER PRESSURE", "Water pressure"),
        ("FGHG_TYPE", "CONSTANT FLOW RATE", "Constant flow"), ("SAMP_TYPE", "EW", "Water"),
        ("FGHG_CNFG", "PKD", "Double packer"),
    ],
}  # fmt: skip


def file_of(folder: Path, old: str = "", new: str = "") -> Path:
    """The file of another program, with a text replaced."""
    listed = {
        "UNIT": sorted({u for h in HEADS.values() for u, _ in h.values()} - {""} | {"DegC"}),
        "TYPE": sorted({t for h in HEADS.values() for _, t in h.values()}),
    }
    lines = []
    for group, heads in HEADS.items():
        rows = [("HEADING", *heads), ("UNIT", *(u for u, _ in heads.values()))]
        rows += [("TYPE", *(t for _, t in heads.values())), *(("DATA", *r) for r in DATA[group])]
        lines += [f'"GROUP","{group}"', *(",".join(f'"{c}"' for c in row) for row in rows), ""]
    for group, words in listed.items():
        lines += [f'"GROUP","{group}"', f'"HEADING","{group}_{group}","{group}_DESC"']
        lines += ['"UNIT","",""', '"TYPE","X","X"', *(f'"DATA","{w}","{w}"' for w in words), ""]
    path = folder / "other.ags"
    text = "\r\n".join(lines)
    assert old in text
    path.write_bytes(text.replace(old, new).encode())
    return path


def loaded(folder: Path, path: Path) -> tuple[Path, str]:
    """A new site with the file, and what was said."""
    site = folder / "s.gpkg"
    for words in (["create", str(site), "--crs", "EPSG:32632"], ["load", str(site), str(path)]):
        answer = CliRunner().invoke(cli, words)
        if answer.exception:
            raise answer.exception
    return site, answer.output


def test_zones_diameters_and_units_come_from_the_standards_headings(tmp_path: Path) -> None:
    """Set-up, type of point, legend and bases leave one reading each; all of it is told."""
    site, said = loaded(tmp_path, file_of(tmp_path))
    read = Store.open(site).read()
    zones = read.table("interval").set_index("interval")
    assert zones["isolation"].to_dict() == {"P1": "screen", "BH1 20.00-25.00": "straddle"}
    assert zones.loc["BH1 20.00-25.00", ["top_m", "bottom_m", "static_depth_m"]].tolist() == [
        20.0, 25.0, 6.0,
    ]  # fmt: skip
    holes = read.table("construction").sort_values(["borehole", "top_m"])
    assert holes[["top_m", "bottom_m"]].to_numpy().tolist() == [[0, 4], [4, 40], [0, 30]]
    assert sorted(read.table("lithology")["unit"]) == ["Limestone", "Sand"]
    assert read.table("test")["interval"].tolist() == ["BH1 20.00-25.00"]
    assert read.table("pressure_step")["minutes"].tolist() == [10.0, 10.0]
    assert read.table("water_level")["depth_to_water_m"].tolist() == [5.87]
    assert read.table("sample")["interval"].tolist() == ["P1"]
    for words in (
        "base of the one above", "GEOL_LEG", "MONG_TYPE", "FGHG_CNFG", "FGHG_IPRM", "FGHS_HEAD",
        "1 test(s) at a constant flow rate are left", "TEMP 11.5, WDEP Dry", "1 sample(s)",
    ):  # fmt: skip
        assert words in said


def test_a_set_up_that_nobody_told_is_asked_for(tmp_path: Path) -> None:
    """Without the code no isolation is invented: the file is refused, and the column named."""
    path = file_of(tmp_path, '"WATER PRESSURE","PKD"', '"WATER PRESSURE",""')
    with pytest.raises(DataErrors, match="isolation"):
        loaded(tmp_path, path)
