"""The site map: what it shows, its scale and its words."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure

from geoprofile.drawing.map_frame import round_scale
from geoprofile.drawing.theme import LANDSCAPE_IN, band_colours, sheet
from geoprofile.errors import DataError
from geoprofile.plugins import no_progress
from geoprofile.products.figures import site_map
from geoprofile.products.heads import head_contour
from geoprofile.products.maps.figure import draw_map
from geoprofile.products.maps.figure_model import draw_field
from geoprofile.products.maps.figure_numbers import map_drawing


@pytest.fixture
def drawing(mapped_site, drawn_fields):
    """Toluene at the elevation of the highest value."""
    return map_drawing(mapped_site, "toluene")


def test_the_map_lies_where_the_highest_value_is(drawing):
    """Of the elevations of the layer the one next to the highest value is drawn."""
    assert drawing.place == "elevation -10 m"


def test_bands_of_the_map_tile_the_site(drawing):
    """Bands cover the site area of 200 by 120 m once."""
    assert sum(r["geometry"].area for r in drawing.bands) == pytest.approx(24_000, rel=1e-9)


def test_the_edge_drawn_is_where_the_chance_is_even(drawing, closed_fields):
    """On the 50 % line the probability of exceeding is 0.5; where it runs nowhere, that is told."""
    rim = shapely.get_coordinates(drawing.edges[0.5])
    points = np.column_stack([rim, np.full(len(rim), -10.0)])
    chance = closed_fields["toluene"].exceedance(points)
    assert np.abs(chance - 0.5).max() < 0.03
    everywhere = replace(drawing, edges={**drawing.edges, 0.1: drawing.domain})
    colours = band_colours(drawing.bandwidth, "toluene")
    entries = draw_field(Figure().add_subplot(), everywhere, colours)
    told = {e.text.replace("\n", " ").partition(" %")[0]: e.text for e in entries}
    assert "all of this map" in told["10"].replace("\n", " ")
    assert "all of" not in told["50"]


def test_values_shown_lie_near_the_elevation(drawing):
    """Only intervals within reach of the map's elevation are shown, one per borehole."""
    holes = [row["borehole"] for *_, row in drawing.values]
    assert len(holes) == len(set(holes)) == 12


def test_the_sheet_has_scale_north_coordinates_and_caution(
    mapped_site, drawing, words_of, collisions_of, cut_off_of
):
    """A reader finds scale, coordinates, north, legend and caution; no texts collide."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, mapped_site, drawing)
        words = words_of(figure)
        assert collisions_of(figure) == []
        assert cut_off_of(figure) == []
        axes = figure.axes[0]
        box = axes.get_window_extent()
        metres_per_inch = np.ptp(axes.get_xlim()) / (box.width / figure.dpi)
    assert metres_per_inch / 0.0254 == pytest.approx(1000.0)
    for part in (
        "1:1 000 on A4",
        "EPSG:32628",
        "local datum",
        "N",
        "Easting [m]",
        "50 % probability",
        "site area",
        "licensed professional",
        "< 0.5 µg/L",
        "round spring",
    ):
        assert part in words


def test_probability_map_has_bands_in_percent(mapped_site, drawn_fields, words_of):
    """The map of probabilities is labelled in percent."""
    chance = map_drawing(mapped_site, "toluene", statistic="probability")
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, mapped_site, chance)
        words = words_of(figure)
    assert "90 to 100 %" in words
    assert "above 10 µg/L" in words


def test_refusals_say_what_to_do(mapped_site, drawn_fields):
    """Unknown quantity, K without a criterion, and an elevation in the air."""
    with pytest.raises(DataError, match="one of K, toluene"):
        map_drawing(mapped_site, "xylene")
    with pytest.raises(DataError, match="no criterion for K"):
        map_drawing(mapped_site, "K", statistic="probability")
    with pytest.raises(DataError, match="below ground"):
        map_drawing(mapped_site, "K", elevation_m=99.0)
    with pytest.raises(DataError, match="unit 'sand'"):
        map_drawing(mapped_site, "K", hydro_unit="sand")


def test_a_map_of_a_depth_shows_what_was_measured_there(mapped_site, drawn_fields):
    """Near 15 m below ground every hole has its second interval, from 14 to 16 m."""
    drawing = map_drawing(mapped_site, "K", depth_m=15.0)
    assert drawing.place == "15 m below ground"
    assert {row["interval"].split("-")[1] for *_, row in drawing.values} == {"1"}
    assert "of this depth" in drawing.near


def test_a_map_of_a_unit_shows_what_was_measured_in_it(
    layered_site, drawn_fields, words_of, collisions_of
):
    """In the clay of 14 to 18 m lies the second interval of the holes that have clay."""
    drawing = map_drawing(layered_site, "toluene", hydro_unit="clay")
    shown = {row["interval"] for *_, row in drawing.values}
    assert shown == {f"B{hole}-1" for hole in range(1, 10)}
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, layered_site, drawing)
        assert collisions_of(figure) == []
        words = words_of(figure)
    assert "toluene at mid-height of clay" in words
    assert "measured in this unit" in words


def test_files_are_the_same_twice(mapped_site, drawn_fields, tmp_path):
    """The plain site map gives the same bytes twice."""
    one = site_map(mapped_site, tmp_path / "a")
    two = site_map(mapped_site, tmp_path / "b")
    assert [p.read_bytes() for p in one] == [p.read_bytes() for p in two]


@pytest.mark.parametrize(("least", "scale"), [(980, 1000), (1001, 1250), (4100, 5000)])
def test_scales_are_round(least, scale):
    """The scale is the next round one."""
    assert round_scale(least) == scale


def test_a_blank_part_is_hatched_and_explained(mapped_site, drawn_fields, words_of, collisions_of):
    """Below some boreholes: bands and blanks tile the site, and the legend gives the reason."""
    deep = map_drawing(mapped_site, "K", elevation_m=-18.5)
    parts = [*(r["geometry"] for r in deep.bands), *(b.shape for b in deep.blanks)]
    assert sum(p.area for p in parts) == pytest.approx(24_000, rel=1e-9)
    assert [b.reason for b in deep.blanks] == ["below the boreholes"]
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, mapped_site, deep)
        assert "no map: below the" in words_of(figure)
        assert collisions_of(figure) == []


def test_edges_run_on_where_values_are_too_uncertain_to_show(mapped_site, drawn_fields, drawing):
    """A limit on the spread blanks colours; the edge of a chance stays where it was."""
    most = float(np.nanmedian(drawing.spread[2]))
    bare = replace(mapped_site, settings={"map_band": {"most_sd": most}})
    cut = map_drawing(bare, "toluene")
    assert "uncertain" in [blank.reason for blank in cut.blanks]
    assert cut.domain.area < 0.9 * drawing.domain.area
    assert all(cut.edges[p].equals(drawing.edges[p]) for p in drawing.edges)


def test_head_contours_stand_on_the_map_of_boreholes(mapped_site, words_of, collisions_of):
    """Lines of the table are drawn in their place, with heads that collide with nothing."""
    made = head_contour.PLUGIN.compute(
        mapped_site, {s.name: s.default for s in head_contour.PLUGIN.settings}, no_progress
    )
    table = made["head_contour"]
    assert len(table) > 2
    with sheet(LANDSCAPE_IN) as figure:
        draw_map(figure, mapped_site.with_tables({"head_contour": table}), None)
        assert collisions_of(figure) == []
        words = words_of(figure)
        drawn = {tuple(line.get_xydata()[0]) for line in figure.axes[0].lines}
    assert "head contour" in words
    assert sum(row.label in words for row in table.itertuples()) > len(table) / 2
    for row in table.itertuples():
        assert row.geometry.coords[0][:2] in drawn
