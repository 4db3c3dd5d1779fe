"""Style files."""

from xml.etree import ElementTree

import pytest

from geoprofile.formats.sld import PLUGIN

NAMESPACES = {"sld": "http://www.opengis.net/sld", "se": "http://www.opengis.net/se"}


@pytest.fixture
def styles(awkward_site, tmp_path):
    """The style files as XML."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    return {f: ElementTree.parse(tmp_path / f).getroot() for f in written.files}  # noqa: S314


def test_every_layer_has_a_style(styles):
    """Map layers and section layers, none for tables without shapes."""
    assert {"borehole.sld", "conductivity.sld", "section_band.sld", "area.sld"} == set(styles)


def test_styles_are_sld_1_1(styles):
    """OGC 05-078r4 (SLD 1.1) with symbology encoding: version, namespace, at least one rule."""
    for root in styles.values():
        assert root.tag == "{http://www.opengis.net/sld}StyledLayerDescriptor"
        assert root.get("version") == "1.1.0"
        assert root.findall(".//se:Rule", NAMESPACES)


def test_a_style_is_left_out_where_its_column_is(awkward_site, tmp_path):
    """Labels are kept back: no style of the bands, and it is told."""
    frame = awkward_site.table("section_band").drop(columns=["label"])
    site = awkward_site.with_tables({"section_band": frame})
    written = PLUGIN.write(site, str(tmp_path), {"tables": []})
    assert "section_band.sld" not in written.files
    assert [loss.where for loss in written.losses] == ["section_band"]
