"""Files and settings that bear the names of an earlier layout are read, with a note on each."""

import shutil

import pytest

from geoprofile.schema import renamed
from geoprofile.store import Store

pytestmark = pytest.mark.usefixtures("undrawn")


def in_earlier_names(folder):
    """The tables and settings of the yard as they were named before."""
    (folder / "stages.csv").write_text(
        "test,stage,gauge_pressure_kpa,flow_l_min\nTC-1,1,50,2\nTC-1,2,100,4\n"
    )
    (folder / "packers.csv").write_text(
        "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,gland_length_ft,"
        "seating_pressure_kpa,max_inflation_kpa\nP1,72,76,122,3.2808399,350,2400\n"
    )
    text = (folder / "site.toml").read_text()
    (folder / "site.toml").write_text(text + '\n[field]\nmean = "constant"\n')
    tests = folder / "tests.csv"
    lines = tests.read_text().splitlines()
    kept = dict(zip(lines[0].split(","), lines[1].split(","), strict=True))
    injected = {**kept, "test": "TC-1", "kind": "constant head"}
    row = ",".join(injected[c] for c in lines[0].split(","))
    head = [f"{lines[0]},method", *(f"{x}," for x in lines[1:]), f"{row},held-head"]
    tests.write_text("\n".join(head) + "\n")


def test_earlier_names_are_read_with_a_note(yard, geoprofile):
    """Tables, columns in any unit, methods and settings; every note names the present name."""
    in_earlier_names(yard)
    ran = geoprofile("run", yard)
    assert ran.returncode == 0, ran.stderr
    for present in ("pressure_step", "element_length_ft", "steady-anisotropic", "[model]", "trend"):
        assert present in ran.stderr
    store = Store.open(yard / "site.gpkg")
    assert store.rows("pressure_step", ["test", "step"]) == [("TC-1", 1), ("TC-1", 2)]
    ((length,),) = store.rows("packer", ["element_length_m"])
    assert abs(length - 1.0) < 1e-6  # 3.2808399 ft, to the digits given
    assert ("TC-1", "steady-anisotropic") in store.rows("test", ["test", "method"])
    assert store.read(["borehole"]).settings["model"] == {"trend": "constant"}


def test_settings_kept_in_the_file_follow(kept, geoprofile, edit):
    """`[field]` that the file keeps is `[model]` after the migration."""
    path = kept("site_layout_2")
    edit(path, "INSERT INTO site (name, value) VALUES ('field', '{\"mean_k\": \"quadratic\"}')")
    assert geoprofile("migrate", path).returncode == 0
    assert Store.open(path).read(["borehole"]).settings["model"] == {"trend_k": "quadratic"}


def test_rows_loaded_under_earlier_names_are_not_taken_for_edited(kept, geoprofile, yard):
    """After migration, the same packers under the present names change nothing."""
    path = kept("site_layout_2")
    assert geoprofile("migrate", path).returncode == 0
    shutil.move(path, yard / "site.gpkg")
    answer = geoprofile("load", yard / "site.gpkg", yard)
    assert answer.returncode == 0
    assert answer.stderr.endswith("No row was changed.\n")


def test_no_name_is_both_earlier_and_present():
    """A name that means something today cannot stand for something else."""
    from geoprofile.schema import TABLES

    assert not set(renamed.TABLES) & set(TABLES)
    for table, names in renamed.COLUMNS.items():
        assert not set(names) & {c.name for c in TABLES[table].columns}
        assert set(names.values()) <= {c.name for c in TABLES[table].columns}
