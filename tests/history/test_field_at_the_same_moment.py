"""Field copies are taken and brought back by two hands at the same moment: none is lost."""

from __future__ import annotations

import pytest

from geoprofile import app
from geoprofile.fieldcopy import copies, taking
from geoprofile.store import Store


@pytest.fixture
def site(yard, monkeypatch):
    """The small site, loaded; copies come without a project of the GIS."""
    monkeypatch.setattr(taking, "_compose", lambda place: None)
    path = app.create(yard / "site.gpkg", crs="EPSG:32632").database
    app.load(path, [yard])
    return path


def meanwhile(monkeypatch, module, name, do):
    """Have something done the first time that a function of the copies is called."""
    original, waiting = getattr(module, name), [do]

    def paused(*given):
        while waiting:
            waiting.pop()()
        return original(*given)

    monkeypatch.setattr(module, name, paused)


def numbers(site):
    """The number of every copy by its mark."""
    return {str(c): int(n) for c, n in Store.open(site).rows("field_copy", ["copy", "number"])}


@pytest.mark.parametrize("other", ["B1", "B2"])
@pytest.mark.parametrize("moment", ["part_of", "write_page", "_states"])
def test_two_copies_taken_at_once_are_two(site, tmp_path, monkeypatch, moment, other):
    """Each has a number of its own, all its files, and no file belongs to neither."""
    found = []
    out = tmp_path / "out"
    meanwhile(
        monkeypatch, taking, moment, lambda: found.append(taking.take_out(site, [other], out))
    )
    found.append(taking.take_out(site, ["B1"], out))
    known = numbers(site)
    assert len(known) == len(set(known.values())) == 4  # a tablet and a page each
    assert {taken.mark for taken in found} <= set(known)
    assert {path for taken in found for path in taken.files} == set(out.glob("field_*"))
    copies.bring_back(site, [taken.files[0] for taken in found])


@pytest.mark.parametrize("moment", ["records_of", "_merge", "_changed", "states_of"])
def test_what_two_copies_changed_is_told_of_both(site, tmp_path, edit, monkeypatch, moment):
    """Both differ from what the office has written meanwhile: three values, two of them told."""
    one, two = (taking.take_out(site, ["B1"], tmp_path / name).files[0] for name in ("one", "two"))
    for path, words in ((one, "wet"), (two, "dry"), (site, "not seen")):
        edit(path, f"UPDATE borehole SET remarks = '{words}' WHERE borehole = 'B1'")
    meanwhile(monkeypatch, copies, moment, lambda: copies.bring_back(site, [one]))
    copies.bring_back(site, [two])
    rows = Store.open(site).rows("finding", ["what", "step"])
    told = " ".join(str(what) for what, step in rows if step == copies.STEP)
    assert "'wet'" in told
    assert "'dry'" in told
    stored = dict(Store.open(site).rows("borehole", ["borehole", "remarks"]))
    assert stored["B1"] == "not seen"
