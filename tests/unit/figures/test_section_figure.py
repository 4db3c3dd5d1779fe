"""The section figure: the numbers it draws, its words, and files that come out the same."""

from dataclasses import replace

import numpy as np
import pytest

from geoprofile.drawing.theme import LANDSCAPE_IN, sheet
from geoprofile.products.figures import section_figure
from geoprofile.products.section.exaggeration import vertical_exaggeration
from geoprofile.products.section.figure import draw_section, section_drawing
from geoprofile.products.section.figure_legend import entries_of
from geoprofile.products.section.figure_wording import compass
from geoprofile.products.section.logs import Contact, Piece, Proposal


@pytest.fixture
def drawing(mapped_site, with_closed_fields, monkeypatch, closed_fields):
    """Toluene along the first line."""
    import geoprofile.products.section.figure_numbers as room

    monkeypatch.setattr(room, "latest_fields", lambda site: list(closed_fields.values()))
    return section_drawing(mapped_site, "along", "toluene")


def texts_of(figure):
    """Every text on the sheet."""
    from matplotlib.text import Text

    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


def test_the_field_drawn_is_the_field(drawing, closed_fields):
    """Numbers of the drawing are the closed form at the same places."""
    s, z = drawing.slice.s[30], drawing.slice.z[40]
    point = drawing.section.plane.to_map([s], [z])
    value = closed_fields["toluene"].at(point).median[0]
    assert drawing.slice.median[40, 30] == pytest.approx(value)


def test_the_sheet_states_scale_exaggeration_projection_and_caution(drawing):
    """What a reader needs to judge the drawing stands on it."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_section(figure, drawing)
        words = " ".join(t.get_text() for t in texts_of(figure))
    for part in (
        "Horizontal scale 1:",
        "vertical exaggeration 3 times",
        "local datum",
        "projected at right angles",
        "exceeding 10 µg/L",
        "sampled 2031-05-08",
        "round spring",
        "licensed professional",
        "not detected",
        "W (270°)",
        "E (90°)",
    ):
        assert part in words


def test_scale_and_exaggeration_are_true(drawing):
    """One inch of x and of y stand for as many metres as printed."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_section(figure, drawing)
        axes = figure.axes[0]
        box = axes.get_window_extent()
        across = np.ptp(axes.get_xlim()) / (box.width / figure.dpi)
        up = np.ptp(axes.get_ylim()) / (box.height / figure.dpi)
        words = " ".join(t.get_text() for t in texts_of(figure))
    assert across / up == pytest.approx(3.0, rel=1e-6)
    assert across / 0.0254 == pytest.approx(1000)
    assert "Horizontal scale 1:1 000 " in words


def test_no_texts_collide(drawing):
    """No two texts overlap on the sheet."""
    with sheet(LANDSCAPE_IN) as figure:
        draw_section(figure, drawing)
        figure.canvas.draw()
        boxes = [(t.get_text(), t.get_window_extent()) for t in texts_of(figure)]
    clashes = [
        (a, b)
        for i, (a, one) in enumerate(boxes)
        for b, other in boxes[i + 1 :]
        if one.overlaps(other) and min(one.width, other.width) > 0
    ]
    assert clashes == []


def test_the_same_drawing_gives_the_same_bytes(
    mapped_site, drawing, tmp_path, monkeypatch, closed_fields
):
    """Files carry no dates and no random ids."""
    first = section_figure(mapped_site, "along", "toluene", tmp_path / "a", ("png", "svg", "pdf"))
    again = section_figure(mapped_site, "along", "toluene", tmp_path / "b", ("png", "svg", "pdf"))
    assert [p.suffix for p in first] == [".png", ".svg", ".pdf"]
    for one, other in zip(first, again, strict=True):
        assert one.read_bytes() == other.read_bytes()


def test_without_a_field_the_intervals_are_drawn(mapped_site, monkeypatch):
    """A quantity without a field is shown by its intervals alone, and the sheet says so."""
    import geoprofile.products.section.figure_numbers as room

    monkeypatch.setattr(room, "latest_fields", lambda site: [])
    bare = section_drawing(mapped_site, "across", "toluene")
    with sheet(LANDSCAPE_IN) as figure:
        draw_section(figure, bare)
        words = " ".join(t.get_text() for t in texts_of(figure))
    assert bare.slice is None
    assert "only measured intervals are shown" in words


def test_exaggeration_is_round_and_fits():
    """A section of 400 by 30 m in a box of 8 by 5 inch takes 7.5 times."""
    assert vertical_exaggeration(400, 30, width=8, room=5) == 7.5


@pytest.mark.parametrize(("azimuth", "name"), [(0, "N"), (359, "N"), (90, "E"), (200, "S")])
def test_compass(azimuth, name):
    """Azimuths to the nearest of eight directions."""
    assert compass(azimuth) == name


def test_a_section_through_boreholes_is_drawn(mapped_site, drawn_fields, tmp_path):
    """Any plane can be drawn, not only the user's lines."""
    from geoprofile.products.figures import free_section_figure
    from geoprofile.products.section.lines import through
    from geoprofile.products.section.sections import along

    section = along(mapped_site, "B1 to B12", through(mapped_site, ["B1", "B5", "B12"]))
    (file,) = free_section_figure(mapped_site, section, "K", tmp_path / "free", ("png",))
    assert file.stat().st_size > 10_000


def test_a_value_has_one_colour_in_all_sections_and_maps(mapped_site, drawn_fields):
    """Bands come from the measured values of the site, not from what one sheet happens to show."""
    from geoprofile.products.maps.figure_numbers import map_drawing

    sheets = [section_drawing(mapped_site, n, "toluene").bandwidth for n in ("along", "across")]
    sheets.append(map_drawing(mapped_site, "toluene", elevation_m=0.0).bandwidth)
    assert sheets[0] == sheets[1] == sheets[2]
    assert sheets[0].levels[0] == 0.5


def test_colours_fade_only_where_the_field_is_unsure():
    """The fade is clear up to an sd of 0.4, thickens, and hides no colour wholly."""
    from geoprofile.drawing.fade import opacity

    hidden = opacity(np.array([0.0, 0.4, 0.75, 1.1, 3.0, np.nan]))
    assert hidden == pytest.approx([0, 0, 0.425, 0.85, 0.85, 0])


def test_logs_casing_and_proposals_stand_on_the_sheet(drawing):
    """What was drilled and what is proposed has its mark, its name and its line in the legend."""
    hole = next(h for h in drawing.section.holes if h.borehole == "B5")
    top, middle = hole.line[0], hole.line[len(hole.line) // 2]
    note = "intervals farther than 3 m from the line are left out: 2 of B5"
    full = replace(
        drawing,
        section=replace(drawing.section, notes=(note,)),
        logged=("gravel",),
        pieces=(
            Piece("lithology", "B5", "gravel", np.array([top, middle])),
            Piece("construction", "B5", "casing", np.array([top, middle])),
        ),
        proposals=(
            Proposal("next_test", 1, np.array([middle, middle - [0.0, 2.0]])),
            Proposal("next_borehole", 2, np.array([[40.0, 11.0], [40.0, -9.0]])),
        ),
        contacts=(Contact("till", np.array([[60.0, 2.0], [70.0, 2.0], [80.0, 1.0]])),),
    )
    with sheet(LANDSCAPE_IN) as figure:
        draw_section(figure, full)
        words = [t.get_text() for t in texts_of(figure)]
    for part in ("gravel", "casing or riser", "T1", "D2", "till", "top of a unit"):
        assert part in words
    assert "D: proposed borehole (best three)" in words
    assert "Intervals farther than 3 m from the line are left out: 2 of B5." in " ".join(words)


def test_a_screen_under_its_bar_has_no_line_in_the_legend(drawing):
    """What nobody sees is not explained; a screen that goes on below the bar is."""
    valued = {row["interval"] for row in drawing.rows}
    bar = next(one for one in drawing.section.intervals if one.interval in valued)

    def texts(line):
        pieces = (Piece("construction", bar.borehole, "screen", line),)
        return [entry.text for entry in entries_of(replace(drawing, pieces=pieces), ["#888888"])]

    assert "screen" not in texts(bar.line)
    assert "screen" in texts(np.vstack([bar.line, bar.line[-1] - [0.0, 1.5]]))
