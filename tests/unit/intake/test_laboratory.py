"""Re-issued reports, blanks without interval, qualifiers, and gases in parts by volume."""

from __future__ import annotations

import pytest

from geoprofile import app
from geoprofile.intake.gases import mass_per_volume

FIRST = (
    "sample,analyte,value,unit,report,reported_on\n"
    "S1,TCE,12,ug/L,77,2026-06-20\nS1,PCE,4,ug/L,77,2026-06-20\n"
)
SECOND = "sample,analyte,value,unit,report,reported_on\nS1,TCE,120,ug/L,77-1,2026-07-02\n"


def by_key(frame):
    return {(r.sample, r.analyte): r.value for r in frame.itertuples()}


def test_the_later_report_holds_whatever_the_order_of_the_files(taken):
    """By its day; the other value is kept, and told."""
    for one, two in ((FIRST, SECOND), (SECOND, FIRST)):
        read = taken({"results.csv": one, "results_more.csv": two})
        assert by_key(read.tables["result"]) == {("S1", "TCE"): 120, ("S1", "PCE"): 4}
        assert by_key(read.tables["replaced_result"]) == {("S1", "TCE"): 12}
        assert [n.where for n in read.notes] == ["result S1 TCE"]


def test_without_days_the_number_of_the_report_tells(taken):
    """R-9 comes before R-10."""
    read = taken(
        {"results.csv": "sample,analyte,value,unit,report\nS1,TCE,1,ug/L,R-9\nS1,TCE,2,ug/L,R-10\n"}
    )
    assert by_key(read.tables["result"]) == {("S1", "TCE"): 2}


def test_two_results_without_report_are_refused_with_the_way_out(one):
    """Which is the later cannot be told."""
    problem = one({"results_more.csv": "sample,analyte,value,unit\nS1,TCE,13,ug/L\n"})
    assert "second time" in problem.found
    assert "reported_on" in problem.advice


def test_a_corrected_report_loaded_alone_replaces_its_rows_only(folder):
    """The sample's other results stay; loading the first report again changes nothing back."""
    place = folder({"results.csv": FIRST})
    database = place / "site.gpkg"
    app.create(database, crs="EPSG:32632")
    app.load(database, [place])
    other = place / "from the laboratory" / "results_2.csv"
    other.parent.mkdir()
    other.write_text(SECOND)
    for source in (other, place / "results.csv", other):
        app.load(database, [source])
        site = app.read(database)
        assert by_key(site.table("result")) == {("S1", "TCE"): 120, ("S1", "PCE"): 4}
        assert by_key(site.table("replaced_result")) == {("S1", "TCE"): 12}


SAMPLES = "sample,interval,sampled_at,kind\nS1,B1-1,2026-06-01,primary\nS2,{},2026-06-01,{}\n"


@pytest.mark.parametrize(
    ("kind", "blank"), [("trip blank", "trip"), ("Equipment-Blank", "equipment"), ("blank", None)]
)
def test_a_blank_needs_no_interval(taken, kind, blank):
    """And says what it controls."""
    row = taken({"samples.csv": SAMPLES.format("", kind)}).tables["sample"].iloc[1]
    assert (row["kind"], row["blank_type"]) == ("blank", blank)


def test_any_other_sample_needs_one(one):
    """Told with what to do if it is a blank."""
    problem = one({"samples.csv": SAMPLES.format("", "primary")})
    assert "trip blank" in problem.advice


@pytest.mark.parametrize(
    ("value", "beside", "kept"),
    [("0.73 J", "J", "J"), ("0.73 J", "B", "J B"), ("0.73", "J", "J"), ("0.5 U", "U", "U")],
)
def test_a_qualifier_counts_once(taken, value, beside, kept):
    """In the cell, beside it, or both."""
    text = f"sample,analyte,value,unit,qualifier\nS1,TCE,{value},ug/L,{beside}\n"
    assert taken({"results.csv": text}).tables["result"]["qualifier"].iloc[0] == kept


# NIOSH pocket guide, conversion factors at 25 C and 1 atm (from memory): benzene 3.19,
# trichloroethylene 5.37, vinyl chloride 2.56 mg/m3 per ppm
@pytest.mark.parametrize(("mass", "factor"), [(78.11, 3.19), (131.39, 5.37), (62.50, 2.56)])
def test_parts_by_volume_have_the_mass_of_the_handbook(mass, factor):
    """To the digits of the handbook."""
    assert mass_per_volume(1, mass, 25, 101.325) == pytest.approx(factor, abs=0.006)


GAS = {
    "samples.csv": "sample,interval,sampled_at,medium\nS1,B1-1,2026-06-01,soil gas\n",
    "results.csv": "sample,analyte,value,unit,molar_mass_g_per_mol,gas_temperature_c,"
    "gas_pressure_kpa\nS1,benzene,{value},ppmv,78.11,25,{pressure}\n",
}


def test_soil_gas_in_ppmv_is_kept_as_mass_per_volume(taken):
    """Value and limit alike."""
    for value, column in (("2", "value"), ("<2", "limit")):
        files = {**GAS, "results.csv": GAS["results.csv"].format(value=value, pressure=101.325)}
        row = taken(files).tables["result"].iloc[0]
        assert row["unit"] == "mg/m3"
        assert row[column] == pytest.approx(6.385, abs=0.01)


def test_parts_by_volume_need_their_state(one):
    """Without the pressure it is refused, naming the column."""
    problem = one({**GAS, "results.csv": GAS["results.csv"].format(value="2", pressure="")})
    assert "gas_pressure_kpa" in problem.found


def test_parts_by_volume_are_no_unit_of_water(one):
    """The medium of the sample decides."""
    files = {"results.csv": GAS["results.csv"].format(value="2", pressure=101.325)}
    assert "water" in one(files).found
