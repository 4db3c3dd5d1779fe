"""DXF drawings, read by an independent library."""

import pytest

from geoprofile.formats._dxf_r12 import layer_name, plain_text
from geoprofile.formats.dxf import PLUGIN

ezdxf = pytest.importorskip("ezdxf")


@pytest.fixture
def drawings(awkward_site, tmp_path):
    """The drawings as ezdxf reads them."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    return {f: ezdxf.readfile(tmp_path / f) for f in written.files}


def test_drawings_are_sound_r12(drawings):
    """The audit of ezdxf finds no fault; the version is AC1009, release 12."""
    for drawing in drawings.values():
        assert drawing.dxfversion == "AC1009"
        assert not drawing.audit().errors


def test_intervals_keep_their_elevations(drawings):
    """The first interval runs from 10 to 12 m below ground at elevation 10 m."""
    lines = drawings["traces.dxf"].modelspace().query("POLYLINE[layer=='CONDUCTIVITY']")
    assert [v.dxf.location.z for v in lines[0].vertices] == [0.0, -2.0]
    assert lines[0].vertices[0].dxf.location.x == 500000.0


def test_rings_and_holes_are_closed(drawings):
    """Two parts, one with a hole, are three closed lines."""
    found = drawings["sections.dxf"].modelspace().query("POLYLINE")
    assert len(found) == 3
    assert all(line.is_closed for line in found)


def test_every_borehole_is_labelled(drawings):
    """Names are texts; a character beyond ASCII is escaped and comes back."""
    texts = {t.dxf.text for t in drawings["traces.dxf"].modelspace().query("TEXT")}
    assert "A-1" in texts
    assert any("2" in t and t.startswith("B ") for t in texts)


def test_names_and_texts_fit_r12():
    """31 characters of a small set; one line of ASCII."""
    assert (
        layer_name("map_band", "1,1-dichloroethene (long name) x")
        == "MAP_BAND_1_1-DICHLOROETHENE_LON"
    )
    assert plain_text("a\nb\tø") == r"a b \U+00F8"
