"""Who answers for a hand-over, on what terms, and what a catalogue reads of it."""

import sqlite3
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from geoprofile.errors import DataErrors, UsageError
from geoprofile.formats import _common
from geoprofile.formats._metadata import SPACES, iso_metadata
from geoprofile.handover import hand_over
from geoprofile.handover.packing import _check_needs
from geoprofile.handover.private import without_private
from geoprofile.handover.readme import readme
from geoprofile.plugins.registry import plugin

SAID = {
    "author": "A. Dey",
    "revision": "C",
    "status": "final",
    "organisation": "Dey & Orr",
    "contact": "office@works.example",
    "terms_of_use": "Free <with> a name",
    "limitation": "Not for design",
}


def text_at(root, path):
    """The text of the elements at a path."""
    return [e.text for e in root.findall(path, SPACES)]


@pytest.fixture
def signed(small_site):
    """A site with its terms."""
    return replace(small_site, settings={"document": SAID})


def test_metadata_hold_terms_contact_place_and_revision(signed):
    """ISO 19115-3 (names of elements from memory); UTM easting 500 km of zone 28 is 15 west."""
    root = ElementTree.fromstring(iso_metadata(signed, made_on="2031-07-01"))  # noqa: S314  our own text
    assert root.tag == f"{{{SPACES['mdb']}}}MD_Metadata"
    assert text_at(root, ".//mco:otherConstraints/gco:CharacterString") == ["Free <with> a name"]
    assert text_at(root, ".//mco:useLimitation/gco:CharacterString") == ["Not for design"]
    assert text_at(root, ".//cit:edition/gco:CharacterString") == ["C"]
    assert "completed" in text_at(root, ".//mri:status/mcc:MD_ProgressCode")
    mail = text_at(root, ".//cit:electronicMailAddress/gco:CharacterString")
    assert set(mail) == {"office@works.example"}
    west, east = (
        float(text_at(root, f".//gex:{side}BoundLongitude/gco:Decimal")[0])
        for side in ("west", "east")
    )
    assert west == pytest.approx(-15.0, abs=0.01)
    assert west <= east
    codes = text_at(root, ".//mrs:referenceSystemIdentifier//mcc:code/gco:CharacterString")
    assert codes == ["EPSG:32628", "yard datum"]


def test_what_the_maker_did_not_say_is_named(small_site):
    """No made-up contact or terms."""
    text = iso_metadata(small_site, made_on="2031-07-01")
    assert text.count("not stated by the maker") >= 3
    words = readme(small_site, made_on="2031-07-01", files=[], losses={})
    assert "Not stated by the maker: author, revision, status, contact, terms of use" in words


def test_package_and_geopackage_carry_the_metadata(signed, tmp_path):
    """As a file, in gpkg_metadata for the whole file, and in the words; the report is signed."""
    out = tmp_path / "out"
    hand_over(signed, out, formats=["geopackage"])
    with sqlite3.connect(next((out / "geopackage").glob("*.gpkg"))) as connection:
        rows = connection.execute(
            "SELECT md_scope, mime_type, metadata, reference_scope FROM gpkg_metadata "
            "JOIN gpkg_metadata_reference ON md_file_id = id"
        ).fetchall()
    connection.close()
    assert [(r[0], r[1], r[3]) for r in rows] == [("dataset", "text/xml", "geopackage")]
    assert "Free &lt;with&gt; a name" in rows[0][2]
    assert "office@works.example" in (out / "metadata.xml").read_text("utf-8")
    assert "Terms of use: Free <with> a name" in (out / "README.txt").read_text("utf-8")
    assert "Not signed" not in (out / "report.html").read_text("utf-8")


def test_settings_stay_at_home_but_for_the_title_block(signed):
    """Key figures of runs stay too where anything is private."""
    private = {"document": SAID, "handover": {"private": ["head"]}, "flow": {"days": 3}}
    public = without_private(replace(signed, settings=private))
    assert public.settings == {"document": SAID}
    assert "figures" not in public.table("run")


def test_missing_libraries_and_inputs_are_told_before_the_work(small_site, tmp_path, monkeypatch):
    """Nothing is written, not even for a moment."""
    monkeypatch.setitem(_common.LIBRARIES, "parquet", "no_such_library_anywhere")
    with pytest.raises(UsageError, match="no_such_library_anywhere"):
        _check_needs(small_site, [plugin("formats", "geoparquet")], review=False)
    started = []
    with pytest.raises(DataErrors):
        hand_over(
            small_site,
            tmp_path / "out",
            review=True,
            progress=lambda done, total: started.append(done),
        )
    assert not started
    assert not (tmp_path / "out").exists()
