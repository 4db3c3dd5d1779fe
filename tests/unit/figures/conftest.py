"""Helpers for sheets: all texts, and those that collide."""

import pytest


def texts_of(figure):
    """Every visible text on the sheet."""
    from matplotlib.text import Text

    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


def tick_labels(figure):
    """Ids of all tick labels: those beyond the limits of their axis exist but are not drawn."""
    axes = [a for ax in figure.axes for a in (ax.xaxis, ax.yaxis)]
    ticks = [t for a in axes for t in (*a.get_major_ticks(), *a.get_minor_ticks())]
    return {id(label) for t in ticks for label in (t.label1, t.label2)}


def boxes_of(figure):
    """Words and boxes of the texts that are no tick labels."""
    figure.canvas.draw()
    ticks = tick_labels(figure)
    return [(t.get_text(), t.get_window_extent()) for t in texts_of(figure) if id(t) not in ticks]


def clashes_of(figure):
    """Pairs of texts that overlap."""
    boxes = boxes_of(figure)
    return [
        (a, b)
        for i, (a, one) in enumerate(boxes)
        for b, other in boxes[i + 1 :]
        if one.overlaps(other)
    ]


@pytest.fixture
def words_of():
    """All words on a sheet as one text."""
    return lambda figure: " ".join(t.get_text() for t in texts_of(figure))


@pytest.fixture
def collisions_of():
    """Pairs of texts that overlap on a sheet."""
    return clashes_of


@pytest.fixture
def cut_off_of():
    """Texts that reach beyond the sheet."""

    def find(figure):
        return [
            text
            for text, box in boxes_of(figure)
            if box.x0 < 0 or box.y0 < 0 or box.x1 > figure.bbox.x1 or box.y1 > figure.bbox.y1
        ]

    return find


@pytest.fixture
def drawn_fields(monkeypatch, closed_fields):
    """Let the figures use the closed-form fields."""
    import geoprofile.products.maps.figure_numbers
    import geoprofile.products.profile.figure_numbers
    import geoprofile.products.section.figure_numbers

    rooms = (
        geoprofile.products.profile.figure_numbers,
        geoprofile.products.section.figure_numbers,
        geoprofile.products.maps.figure_numbers,
    )
    for room in rooms:
        monkeypatch.setattr(room, "latest_fields", lambda site, **_: list(closed_fields.values()))
