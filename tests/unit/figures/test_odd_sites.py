"""Sheets of sites that are hard to draw, run through the program: texts neither meet nor leave."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import geoprofile
from geoprofile import app
from geoprofile.app.figures import draw_run
from geoprofile.drawing import theme
from geoprofile.products import figures

sys.path.insert(0, str(Path(__file__).parent))
from odd_sites import ODD, write_odd

HOLES = 2  # whose profiles are drawn


@pytest.mark.calibration
@pytest.mark.parametrize("name", ODD)
def test_no_text_meets_another_or_leaves_its_sheet(
    name, tmp_path, monkeypatch, collisions_of, cut_off_of, words_of
):
    """Map, sections, profiles, advice and cross-validation; what has no map says why."""
    folder = write_odd(tmp_path / "site", name)
    geoprofile.run(folder)
    site = app.read(folder / "site.gpkg")
    wrong: dict[str, list[object]] = {}
    words: dict[str, str] = {}

    def measured(figure, path, formats):
        del formats
        found = [*collisions_of(figure), *cut_off_of(figure)]
        if found:
            wrong[Path(path).name] = found
        words[Path(path).name] = words_of(figure)
        return ()

    monkeypatch.setattr(theme, "save", measured)
    told = [*draw_run(site, tmp_path).remarks, *app.draw_models(site, tmp_path).remarks]
    told += app.draw_map(site, tmp_path).remarks
    if len(site.table("next_borehole")) or len(site.table("next_test")):
        told += app.draw_advice(site, tmp_path).remarks
    for hole in site.boreholes["borehole"][:HOLES]:
        figures.k_profile(site, hole, tmp_path / f"k {hole}")
        figures.chemistry_profile(site, hole, tmp_path / f"c {hole}")
    assert told == []
    assert wrong == {}
    assert len(words) > 2 * HOLES + 2
    if name == "nothing detected":
        assert "the highest limit 0.5 µg/L" in words["map"]
        assert "not detected" in words["section_a_a__tce"]
        assert not any("exceeding" in text for text in words.values())
