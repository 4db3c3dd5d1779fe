"""The figure of mass flux: bands, words, and the sum along the line."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.drawing.theme import LANDSCAPE_IN, sheet
from geoprofile.errors import DataError
from geoprofile.products.discharge.figure import bands_of, discharge_figure, draw_discharge

ROW = {
    "section": "across",
    "analyte": "toluene",
    "round": "spring",
    "discharge_g_per_day": 2.5,
    "discharge_low_g_per_day": 1.5,
    "discharge_high_g_per_day": 4.0,
    "discharge_least_g_per_day": 0.34,
    "discharge_most_g_per_day": 8.0,
    "planes": 1,
    "notes": "one gradient from the heads of 9 boreholes",
}


def _cell(column, row):
    """A cell of 10 by 5 m on the sheet."""
    return shapely.box(500 + 10 * column, 5 * row, 510 + 10 * column, 5 * row + 5)


@pytest.fixture
def cells():
    """Three columns of two cells on a sheet that begins at 500 m."""
    rows = []
    for column, passed in enumerate((0.2, 0.9, 1.0)):
        for row in range(2):
            flux = 10.0 ** (-column - row)
            named = {"section": "across", "analyte": "toluene", "distance_m": 5.0 + 10 * column}
            rows.append({**named, "flux_g_per_m2_per_day": flux, "cumulative_share": passed})
    shapes = [shapely.MultiPolygon([_cell(k // 2, k % 2)]) for k in range(6)]
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry=shapes)


def test_bands_end_at_a_thousandth_of_the_largest_flux(cells):
    """From 1 down to 0.001, in steps of 1 and 3."""
    assert bands_of(cells).levels == pytest.approx([1e-3, 3e-3, 1e-2, 3e-2, 0.1, 0.3])


def test_the_bars_add_up_to_the_mass_discharge(cells, mapped_site, collisions_of, words_of):
    """Stretch by stretch as the columns carry it; both ranges and the caution are there."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_discharge(figure, ROW, cells, start_m=500.0, site=mapped_site)
        clashes, words = collisions_of(figure), words_of(figure)
        bars = [(p.get_x(), p.get_width(), p.get_height()) for p in figure.axes[1].patches]
        faces = figure.axes[0].collections[0].get_paths()
    ends, widths, grams = (np.array(v) for v in zip(*bars, strict=True))
    assert (ends[0], ends[-1] + widths[-1]) == (0.0, 30.0)
    assert [grams[(ends >= a) & (ends < a + 10)].sum() for a in (0, 10, 20)] == pytest.approx(
        [0.2 * 2.5, 0.7 * 2.5, 0.1 * 2.5]
    )
    assert min(p.vertices[:, 0].min() for p in faces) == 0.0
    for part in ("2.5 g of toluene", "1.5 to 4 g/d", "0.34 to 8 g/d", "licensed professional"):
        assert part in words
    assert clashes == []


def test_a_section_without_discharge_is_refused(mapped_site, tmp_path):
    """What is not in the table is not drawn."""
    with pytest.raises(DataError, match="no mass discharge of 'toluene' through section 'along'"):
        discharge_figure(mapped_site, "along", "toluene", tmp_path / "none")


def test_files_are_written_for_a_row(cells, mapped_site, tmp_path):
    """SVG, PDF and PNG from the tables of a site."""
    tables = {"discharge": pd.DataFrame([ROW]), "discharge_cell": cells}
    files = discharge_figure(
        mapped_site.with_tables(tables), "across", "toluene", tmp_path / "a", ("png", "svg", "pdf")
    )
    assert [f.suffix for f in files] == [".png", ".svg", ".pdf"]
    assert all(f.stat().st_size > 5000 for f in files)
