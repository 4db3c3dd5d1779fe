"""Editing in the forms of a desktop GIS changes the cell that was edited, and no other."""

from __future__ import annotations

import shutil

import pytest

from geoprofile.schema import INPUT

KEYS = {t.name: t.key for t in INPUT}


@pytest.fixture(scope="module")
def answers(gis, full_site, tmp_path_factory):
    """What the GIS did to a copy of the file, by its locale."""
    found = {}
    for locale, zone in (("C", "UTC"), ("de_DE", "America/St_Johns")):
        copy = tmp_path_factory.mktemp("forms") / "site.gpkg"
        shutil.copyfile(full_site, copy)
        found[locale] = gis("edit_forms.py", copy, locale, TZ=zone)
    return found


@pytest.mark.parametrize("locale", ["C", "de_DE"])
@pytest.mark.parametrize("table", list(KEYS))
def test_only_the_cell_that_was_edited_changes(answers, locale, table):
    """To the last bit, also where the GIS writes a comma and lives in a half-hour time zone."""
    answer = answers[locale][table]
    assert answer["wrong"] == []
    assert len(answer["edited"]) == 3
    assert all(value == after for _, value, after in answer["edited"])


@pytest.mark.parametrize("table", list(KEYS))
def test_no_number_is_shown_in_a_box_that_rounds(answers, table):
    """Numbers are typed as text; the row's own number is out of sight."""
    widgets = answers["C"][table]["widgets"]
    assert "Range" not in widgets.values()
    assert widgets["fid"] == "Hidden"


@pytest.mark.parametrize("table", list(KEYS))
def test_required_and_unique_columns_are_known_to_the_form(answers, table):
    """As the schema has them; a key of several columns is unique as a whole only."""
    columns = next(t for t in INPUT if t.name == table)
    required = set(answers["C"][table]["required"])
    assert required >= set(columns.required)
    unique = set(answers["C"][table]["unique"]) - {"fid"}
    assert unique == (set(columns.key) if len(columns.key) == 1 else set())


def test_keys_of_other_tables_are_picked_from_their_rows(answers):
    """Boreholes, intervals, tests, samples and packers come from a list."""
    wanted = {
        ("survey", "borehole"): "borehole",
        ("interval", "borehole"): "borehole",
        ("interval", "packer"): "packer",
        ("test", "interval"): "interval",
        ("reading", "test"): "test",
        ("pressure_step", "test"): "test",
        ("sample", "interval"): "interval",
        ("result", "sample"): "sample",
        ("attachment", "borehole"): "borehole",
    }
    for (table, column), parent in wanted.items():
        answer = answers["C"][table]
        assert answer["widgets"][column] == "ValueRelation"
        assert f"{parent}-4" in answer["offered"][column], (table, column)


def test_allowed_words_are_offered_and_an_answer_is_never_given_by_itself(answers):
    """Whether a substance was detected is a choice, not a box that says no until it is ticked."""
    answer = answers["C"]
    assert answer["result"]["offered"]["detected"] == ["yes", "no"]
    assert "pressure pulse" in answer["test"]["offered"]["kind"]
    assert "(empty)" in answer["test"]["offered"]["aquifer"]
    assert "(empty)" not in answer["test"]["offered"]["kind"]


def test_a_number_beyond_its_limit_is_refused(answers):
    """The limits of the table hold in the form."""
    assert answers["C"]["test"]["refused"] is True
    assert answers["C"]["borehole"]["refused"] is True


def test_a_key_survives_where_its_table_is_not_open(gis, full_site, tmp_path):
    """One table alone in a project: its pick list is empty, what it holds stays."""
    copy = tmp_path / "site.gpkg"
    shutil.copyfile(full_site, copy)
    for table in ("interval", "attachment", "result"):
        assert gis("edit_forms.py", copy, "C", table)[table]["wrong"] == []
