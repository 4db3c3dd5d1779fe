"""The crate of a hand-over, read by libraries that know the standard but not the program."""

import json
from pathlib import Path

import pytest

from geoprofile.errors import DataErrors
from geoprofile.handover import hand_over
from geoprofile.handover.crate import CRATE, check_against_crate

SCHEMA = "http://schema.org/"


@pytest.fixture
def package(small_site, tmp_path) -> Path:
    """A hand-over in CSV and GeoPackage."""
    hand_over(small_site, tmp_path / "out", formats=["csv", "geopackage"])
    return tmp_path / "out"


def test_crate_is_read_by_the_crate_library(package):
    """Every file of the folder is part of it, with its type and sum, and the run is there."""
    rocrate = pytest.importorskip("rocrate.rocrate")
    read = rocrate.ROCrate(package)
    named = {e.id for e in read.data_entities if e.type == "File"}
    every = {p.relative_to(package).as_posix() for p in package.rglob("*") if p.is_file()}
    assert every - named == {CRATE, "checksums.sha256"}
    assert read.get("#run-1").type == "CreateAction"
    assert read.get("#run-1")["instrument"].id == "#geoprofile-0"
    assert {e["name"] for e in read.get("#run-1")["object"]} == {"boreholes.csv", "samples.csv"}


def test_crate_is_json_ld(package):
    """A reader of JSON-LD finds the action, its program and its inputs as triples; no network."""
    rdflib = pytest.importorskip("rdflib")
    text = json.loads((package / CRATE).read_text("utf-8"))
    # the context stands at an address; the terms used here are schema.org's
    text["@context"] = {"@vocab": SCHEMA, "File": SCHEMA + "MediaObject"}
    graph = rdflib.Graph().parse(data=json.dumps(text), format="json-ld", publicID="http://x.test/")
    kind, done = rdflib.RDF.type, rdflib.URIRef(SCHEMA + "CreateAction")
    actions = list(graph.subjects(kind, done))
    assert len(actions) == 1
    assert len(list(graph.objects(actions[0], rdflib.URIRef(SCHEMA + "object")))) == 2
    instrument = graph.value(actions[0], rdflib.URIRef(SCHEMA + "instrument"))
    assert str(graph.value(instrument, rdflib.URIRef(SCHEMA + "name"))) == "geoprofile"


def test_private_data_are_not_told_by_the_crate(with_private, tmp_path):
    """What stays at home leaves no name of a file, no fingerprint and no setting."""
    hand_over(with_private("sample", "borehole.remarks"), tmp_path / "out", formats=["csv"])
    text = (tmp_path / "out" / CRATE).read_text("utf-8")
    assert "samples.csv" not in text
    assert "secret" not in text


def test_changed_inputs_are_told_before_anything_is_computed(tmp_path):
    """One file changed, one gone: both are named."""
    inputs = tmp_path / "review" / "inputs"
    inputs.mkdir(parents=True)
    (inputs / "a.csv").write_text("x\n")
    parts = [{"@id": f"review/inputs/{n}.csv", "sha256": "0" * 64} for n in "ab"]
    (tmp_path / CRATE).write_text(json.dumps({"@graph": parts}))
    with pytest.raises(DataErrors) as found:
        check_against_crate(tmp_path / "review")
    assert "a.csv" in str(found.value)
    assert "b.csv" in str(found.value)


def test_tables_are_what_their_descriptor_says(package):
    """The validator of the standard finds nothing."""
    frictionless = pytest.importorskip("frictionless")
    report = frictionless.Package(str(package / "csv" / "datapackage.json")).validate()
    assert report.valid, report.flatten(["title", "type", "rowNumber", "fieldName", "message"])
    wrong = package / "csv" / "interval.csv"
    wrong.write_text(wrong.read_text("utf-8").replace("straddle", "guessed"), "utf-8")
    report = frictionless.Package(str(package / "csv" / "datapackage.json")).validate()
    assert [e[0] for e in report.flatten(["type"])] == ["constraint-error"]
