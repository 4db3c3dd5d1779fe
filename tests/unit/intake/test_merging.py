"""Two hands on one table: what a load takes, leaves, and tells."""

from __future__ import annotations

import pandas as pd
import pytest

from geoprofile import intake
from geoprofile.intake.row_fingerprints import key_in_words
from geoprofile.site import empty_frame

COLUMNS = ["analyte", "value", "unit", "basis"]


def criteria(**values: float) -> pd.DataFrame:
    """Rows of the table `criterion`, as a file gives them."""
    rows = [(name, value, "ug/L", "user") for name, value in values.items()]
    frame = pd.DataFrame(rows, columns=COLUMNS)
    return frame.assign(source_file="criteria.csv", source_row=range(2, 2 + len(rows)))


def nothing() -> pd.DataFrame:
    """A table `loaded` without rows."""
    return empty_frame("loaded", "EPSG:32632")


def after(file: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The database and its table `loaded` after the first load of a file."""
    merged = intake.merge({"criterion": file}, {}, nothing())
    return merged.upserts["criterion"], merged.loaded


def merge(file, here, loaded, **choices):
    """Load a file of criteria again."""
    return intake.merge({"criterion": file}, {"criterion": here}, loaded, **choices)


def key(analyte: str) -> str:
    """A key of two columns as text: the analyte, and the medium, which is left out here."""
    return f'["{analyte}", null]'


def taken(merged) -> list[str]:
    """Names of the rows that would be stored."""
    return merged.upserts["criterion"]["analyte"].tolist() if merged.upserts else []


def test_first_load_takes_every_row():
    """With an empty database all rows are stored and remembered, without places in files."""
    here, loaded = after(criteria(A=1, B=2))
    assert list(here.columns) == COLUMNS
    assert loaded["row_key"].tolist() == [key("A"), key("B")]
    assert set(loaded["source_file"]) == {"criteria.csv"}


def test_same_files_again_change_nothing():
    """Loading the same again stores nothing, remembers nothing, tells nothing."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1, B=2), here, loaded)
    assert (taken(merged), len(merged.loaded), merged.findings, merged.deletes) == ([], 0, (), {})


def test_edit_in_the_database_stays():
    """A row edited in the GIS stays when the file's row is as it was."""
    here, loaded = after(criteria(A=1, B=2))
    here = here.assign(value=[9.0, 2.0])
    assert not merge(criteria(A=1, B=2), here, loaded).upserts


def test_edit_in_the_file_is_taken():
    """A row changed in the file only is stored, and no other."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1, B=5), here, loaded)
    assert taken(merged) == ["B"]
    assert merged.loaded["row_key"].tolist() == [key("B")]


def test_same_edit_on_both_sides_is_no_conflict():
    """Both sides changed to the same: only the memory is renewed."""
    here, loaded = after(criteria(A=1))
    merged = merge(criteria(A=3), here.assign(value=3.0), loaded)
    assert (taken(merged), merged.findings) == ([], ())
    assert len(merged.loaded) == 1


def test_conflict_is_told_with_both_values_and_nothing_is_overwritten():
    """A row changed on both sides is a finding, once and again, until the user decides."""
    here, loaded = after(criteria(A=1))
    merged = merge(criteria(A=3), here.assign(value=2.0), loaded)
    assert not merged.upserts
    assert merged.loaded.empty
    (finding,) = merged.findings
    assert (finding["source_table"], finding["row_key"]) == ("criterion", "A")
    assert "value is 3 in the file, 2 here" in finding["what"]
    assert "--prefer" in finding["what_to_do"]


def test_a_key_of_several_columns_is_told_in_words():
    """Empty parts are left out; a text that only begins like a list stays as it is."""
    assert key_in_words(key("TCE"), "criterion") == "TCE"
    assert key_in_words('["TCE", "soil gas"]', "criterion") == "TCE, soil gas"
    assert key_in_words("[1] results.csv", "criterion") == "[1] results.csv"
    assert key_in_words('["B1"]', "borehole") == '["B1"]'  # a name of that spelling


def test_preferring_files_takes_the_file():
    """With files preferred the row of the file is stored."""
    here, loaded = after(criteria(A=1))
    merged = merge(criteria(A=3), here.assign(value=2.0), loaded, prefer="files")
    assert taken(merged) == ["A"]
    assert not merged.findings


def test_preferring_the_database_settles_it():
    """With the database preferred its row stays; the next load asks no more, but notes it."""
    here, loaded = after(criteria(A=1))
    here = here.assign(value=2.0)
    merged = merge(criteria(A=3), here, loaded, prefer="database")
    assert not merged.upserts
    again = merge(criteria(A=3), here, merged.loaded)
    assert taken(again) == []
    assert [f["severity"] for f in again.findings] == ["note"]


def test_vanished_row_is_told_and_kept():
    """A row that is gone from its file stays, with a finding."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1), here, loaded)
    assert not merged.deletes
    assert "vanished" in merged.findings[0]["what"]


def test_pruning_deletes_what_vanished():
    """With pruning the row and its memory go."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1), here, loaded, prune=True)
    assert merged.deletes == {
        "criterion": [("B", None)],
        "loaded": [("criterion", key("B"))],
    }


def test_pruning_keeps_what_the_user_edited():
    """A vanished row that was edited in the database is told and not deleted."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1), here.assign(value=[1.0, 7.0]), loaded, prune=True)
    assert not merged.deletes
    assert len(merged.findings) == 1


def test_rows_of_files_that_were_not_read_have_not_vanished():
    """Loading one file says nothing of rows that came from another."""
    here, loaded = after(criteria(A=1, B=2))
    other = criteria(C=3).assign(source_file="more.csv")
    merged = merge(other, here, loaded)
    assert taken(merged) == ["C"]
    assert not merged.findings


def test_row_deleted_in_the_database_stays_deleted():
    """A row that the user deleted does not come back by loading the same file."""
    here, loaded = after(criteria(A=1, B=2))
    merged = merge(criteria(A=1, B=2), here.iloc[:1], loaded)
    assert not merged.upserts
    assert "deleted" in merged.findings[0]["what"]
    assert taken(merge(criteria(A=1, B=2), here.iloc[:1], loaded, prefer="files")) == ["B"]


def test_row_drawn_in_the_database_is_not_overwritten():
    """A row of the same key drawn in the GIS, never loaded, is a conflict."""
    here = criteria(A=1).drop(columns=["source_file", "source_row"])
    merged = merge(criteria(A=2), here, nothing())
    assert not merged.upserts
    assert len(merged.findings) == 1


def test_readings_are_taken_test_by_test(taken_readings):
    """One changed reading replaces the readings of its test, and of no other."""
    first = taken_readings("0,0.8\n1,0.7\n")
    stored = intake.merge(first, {}, nothing())
    assert stored.loaded.loc[stored.loaded["source_table"] == "reading", "row_key"].tolist() == [
        "T1",
        "T2",
    ]
    second = taken_readings("0,0.8\n1,0.75\n")
    merged = intake.merge(second, first, stored.loaded)
    assert set(merged.upserts) == {"reading"}
    assert merged.upserts["reading"]["test"].tolist() == ["T1", "T1"]


@pytest.fixture
def taken_readings(taken):
    """Tables of the small site with these readings of test T1."""

    def read(rows: str):
        files = {
            "readings/T1.csv": "elapsed_s,displacement_m\n" + rows,
            "readings/T2.csv": "elapsed_s,displacement_m\n0,-0.5\n1,-0.4\n",
        }
        return taken(files).tables

    return read


def test_order_of_rows_does_not_matter():
    """Shuffled rows have the fingerprints of the rows in order."""
    frame = criteria(A=1, B=2, C=3)
    first = intake.fingerprint_rows(frame, "criterion")
    second = intake.fingerprint_rows(frame.iloc[[2, 0, 1]], "criterion")
    assert first.to_dict() == second.to_dict()


def test_columns_of_the_user_do_not_count():
    """A column that the user added in the GIS is no change."""
    frame = criteria(A=1)
    first = intake.fingerprint_rows(frame, "criterion")
    assert first.equals(intake.fingerprint_rows(frame.assign(mine="x"), "criterion"))
