"""The sheet of a cross-validation, drawn from the tables of the site file."""

import numpy as np
import pytest

from geoprofile import app
from geoprofile.cli.interpolate import COMMAND
from geoprofile.drawing.theme import paper_landscape, sheet
from geoprofile.engine.rows import frame
from geoprofile.products.model.figure import HALF_80, draw_validation
from geoprofile.products.model.figure_held_out import held_out_of
from geoprofile.site import Site

CRS = "EPSG:32628"
MODEL = {
    "quantity": "TCE",
    "round": "R1",
    "unit": "ug/L",
    "coverage_50": 0.5,
    "coverage_80": 0.8,
    "coverage_95": 0.9,
}


def rows():
    """Twenty values, each fourth not detected; predicted with a factor of 3 as 80 % interval."""
    rng = np.random.default_rng(2)
    found = []
    for n, log10 in enumerate(rng.uniform(0, 3, 20)):
        value, at = float(10**log10), float(10 ** (log10 + rng.normal(0, 0.4)))
        found.append(
            {
                "quantity": "TCE",
                "round": "R1",
                "unit": "ug/L",
                "interval": f"i{n}",
                "borehole": f"B{n // 4}",
                "measured": None if n % 4 == 3 else value,
                "limit": 0.5 if n % 4 == 3 else None,
                "predicted_median": at,
                "predicted_low": at / 3,
                "predicted_high": at * 3,
            }
        )
    return found


def test_arrays_say_what_the_table_says():
    """A factor of 3 to either side is 1.28 standard deviations; a non-detect has no residual."""
    found = held_out_of(rows(), MODEL)
    assert found.sd == pytest.approx(np.log10(3) / HALF_80)
    assert np.isnan(found.residual).sum() == np.isfinite(found.limits).sum() == 5
    inside = [
        r["predicted_low"] <= r["measured"] <= r["predicted_high"] for r in rows() if r["measured"]
    ]
    position = found.position[np.isfinite(found.position)]
    assert sum((position > 0.1) & (position < 0.9)) == sum(inside)


def test_the_sheet_is_readable(collisions_of, cut_off_of, words_of):
    """Nothing overlaps; counts and unit are said."""
    found = held_out_of(rows(), MODEL)
    with sheet(paper_landscape()) as figure:
        draw_validation(figure, found, "TCE, R1", unit="ug/L", limits=found.limits)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
        assert "15 values, 5 non-detects" in words_of(figure)
        assert "Measured [µg/L]" in words_of(figure)


def test_the_command_draws_one_for_each_model(tmp_path):
    """A model without held-out values is told, and costs no other sheet."""
    models = [MODEL, {**MODEL, "quantity": "benzene"}]
    tables = {"held_out": frame("held_out", rows(), CRS), "model": frame("model", models, CRS)}
    drawn = app.draw_models(Site("yard", CRS, "yard datum", tables=tables), tmp_path)
    assert [p.name for p in drawn.files] == ["held_out_tce_r1.png", "held_out_tce_r1.svg"]
    assert ["benzene" in remark for remark in drawn.remarks] == [True]
    assert not next(p for p in COMMAND.params if "--figures" in p.opts).hidden
