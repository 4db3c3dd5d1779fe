"""Profiles, test figures and cross-validation figures: numbers and words."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from geoprofile.drawing.theme import LANDSCAPE_IN, PORTRAIT_IN, sheet
from geoprofile.errors import DataError
from geoprofile.hydraulics.analysis import analyse
from geoprofile.plugins.registry import plugins
from geoprofile.products.conductivity.figure import draw_test
from geoprofile.products.figures import chemistry_profile, k_profile
from geoprofile.products.model.figure import draw_validation
from geoprofile.products.profile.figure import draw_profiles
from geoprofile.products.profile.figure_numbers import profile_of


@pytest.fixture
def built_site(mapped_site):
    """The site with ground and construction of one hole."""
    ground = pd.DataFrame(
        {
            "borehole": ["B5", "B5"],
            "top_m": [0.0, 8.0],
            "bottom_m": [8.0, 32.0],
            "unit": ["upper sand", "siltstone"],
            "description": None,
        }
    )
    built = pd.DataFrame(
        {
            "borehole": ["B5", "B5"],
            "top_m": [0.0, 8.0],
            "bottom_m": [8.0, 32.0],
            "kind": ["casing", "open hole"],
            "diameter_mm": [120.0, 96.0],
            "remarks": None,
        }
    )
    return mapped_site.with_tables({"lithology": ground, "construction": built})


def test_profile_has_the_values_of_the_hole_and_the_field_along_it(
    built_site, drawn_fields, closed_fields
):
    """Values come from the table, the line from the field at points of the leaning hole."""
    from geoprofile.products.boreholes.inputs import paths_of

    profile = profile_of(built_site, "B5", "toluene")
    assert [r["interval"] for r in profile.rows] == ["B5-0", "B5-1", "B5-2", "B5-3"]
    k = 77
    point = paths_of(built_site)["B5"].at([profile.field.depth_m[k]])
    assert profile.field.median[k] == pytest.approx(closed_fields["toluene"].at(point).median[0])
    assert profile.field.depth_m.min() >= profile.water_m


@pytest.mark.parametrize("quantity", ["K", "toluene"])
def test_profile_sheet(built_site, drawn_fields, quantity, words_of, collisions_of, cut_off_of):
    """The sheet names hole, units and caution; no texts collide or run off."""
    with sheet(PORTRAIT_IN) as figure:
        draw_profiles(figure, built_site, [profile_of(built_site, "B5", quantity)])
        words = words_of(figure)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
    for part in ("Borehole B5", "Depth along the hole [m]", "siltstone", "95 %"):
        assert part in words
    assert "m/s" in words if quantity == "K" else "criterion 10" in words


def test_profile_files(built_site, drawn_fields, tmp_path):
    """Both profiles are written."""
    k = k_profile(built_site, "B5", tmp_path / "k")
    c = chemistry_profile(built_site, "B5", tmp_path / "c", ("pdf",))
    assert all(p.stat().st_size > 1000 for p in (*k, *c))
    with pytest.raises(DataError, match="one of B1"):
        profile_of(built_site, "Z9", "K")


@pytest.mark.parametrize(
    ("method", "k"), [("hvorslev", 3e-6), ("moye", 3e-6), ("underdamped", 1e-3)]
)
def test_test_sheet_shows_k_and_grade(method, k, words_of, collisions_of, cut_off_of):
    """The sheet of a test shows the preferred K, its range, the grade and the caution."""
    known = plugins("methods")
    test = known[method].example(k)
    analysis = analyse(test, tuple(known.values()))
    with sheet(LANDSCAPE_IN) as figure:
        draw_test(figure, test, analysis)
        words = words_of(figure)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
    for part in (f"Grade: {analysis.grade}", f"preferred: {analysis.best.method}", "licensed"):
        assert part in words


def test_validation_sheet(words_of, collisions_of, cut_off_of):
    """Coverage printed is the coverage found; the typical miss is the rms of log10."""
    rng = np.random.default_rng(2)
    residual = rng.normal(0, 0.3, 50)
    residual[:10] = np.nan
    check = SimpleNamespace(
        mean=rng.normal(0, 1, 50),
        sd=np.full(50, 0.3),
        residual=residual,
        position=np.where(np.isnan(residual), np.nan, 0.5),
        coverage_50=0.52,
        coverage_80=0.81,
        coverage_95=0.94,
    )
    limits = np.where(np.isnan(residual), 0.0, np.nan)
    with sheet(LANDSCAPE_IN) as figure:
        draw_validation(figure, check, "toluene", unit="ug/L", limits=limits)
        words = words_of(figure)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
    assert "40 values, 10 non-detects" in words
    assert f"a factor of {10 ** np.sqrt(np.nanmean(residual**2)):.1f}" in words
    assert "81" in words
