"""What holds for every format, ours and installed."""

import pytest

from geoprofile.formats._staging import REPORT, write_format
from geoprofile.plugins import LOSS_KINDS, Format
from geoprofile.plugins.registry import plugins

FORMATS = plugins("formats")


@pytest.fixture
def written(request, awkward_site, tmp_path):
    """A format's files of the awkward site."""
    plugin = FORMATS[request.param]
    if plugin.needs == "raster":
        pytest.importorskip("rasterio")
    if plugin.needs == "parquet":
        pytest.importorskip("pyarrow")
    place = tmp_path / "out"
    return plugin, place, write_format(plugin, awkward_site, place, {})


@pytest.mark.parametrize("written", FORMATS, indirect=True)
def test_files_are_where_they_are_said_to_be(written):
    """Every file named exists, with the losses beside it, and no other is left."""
    _, place, done = written
    found = {p.relative_to(place).as_posix() for p in place.rglob("*") if p.is_file()}
    assert found == {*done.files, REPORT}


@pytest.mark.parametrize("written", FORMATS, indirect=True)
def test_losses_are_of_known_kinds_and_in_words(written):
    """Each names where, which kind, and what."""
    plugin, place, done = written
    assert isinstance(plugin, Format)
    for loss in done.losses:
        assert loss.kind in LOSS_KINDS
        assert loss.where
        assert len(loss.what) > 5
        assert str(place) not in str(loss)


@pytest.mark.parametrize("written", FORMATS, indirect=True)
def test_the_same_site_gives_the_same_losses(written, awkward_site, tmp_path):
    """Losses and names of files do not depend on chance."""
    plugin, _, done = written
    again = write_format(plugin, awkward_site, tmp_path / "again", {})
    assert again == done
