"""The sheets of a field plan: their numbers, their cautions, and the tables that load again."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from geoprofile.drawing import theme
from geoprofile.engine.rows import frame
from geoprofile.errors import UsageError
from geoprofile.packers.cautions import FIELD_CAUTIONS
from geoprofile.products.boreholes.figure import spread
from geoprofile.products.packer_plan.compute import make_plan
from geoprofile.products.packer_plan.figure import plan_html, write_plan
from geoprofile.products.packer_plan.figure_overview import draw_list, draw_overview
from geoprofile.products.packer_plan.figure_rows import hours, sheet_blocks, short
from geoprofile.products.packer_plan.figure_set_up import draw_setup
from geoprofile.products.packer_plan.plan import Choices, Plan
from geoprofile.schema import TABLES
from geoprofile.site import Site

CRS = "EPSG:32628"


@cache
def plan(purpose: str = "both") -> Plan:
    """A short hole, so that drawing is quick."""
    rows: dict[str, list[dict[str, object]]] = {
        "borehole": [
            {"borehole": "B<1>", "x": 0.0, "y": 0.0, "ground_elevation_m": 9.0, "depth_m": 16.0}
        ],
        "construction": [
            {"borehole": "B<1>", "top_m": 0, "bottom_m": 4, "kind": "casing", "diameter_mm": 104},
            {
                "borehole": "B<1>",
                "top_m": 4,
                "bottom_m": 16,
                "kind": "open hole",
                "diameter_mm": 96,
            },
        ],
        "packer": [
            {
                "packer": "P1",
                "deflated_diameter_mm": 72.0,
                "min_hole_mm": 76.0,
                "max_hole_mm": 122.0,
                "element_length_m": 1.0,
                "seating_pressure_kpa": 350.0,
                "max_inflation_kpa": 1500.0,
                "pipe_inner_diameter_mm": 38.0,
                "gas_or_water": "gas",
            }
        ],
        "spacer": [{"spacer": "S2", "open_length_m": 2.0}],
        "water_level": [
            {"borehole": "B<1>", "measured_at": "2025-05-01T08:00Z", "depth_to_water_m": 3.0}
        ],
    }
    rows["water_level"][0].pop("measured_at")
    site = Site("made up", CRS, "datum", tables={n: frame(n, r, CRS) for n, r in rows.items()})
    return make_plan(site, "B<1>", purpose=purpose, choices=Choices(open_s=86400.0))


def texts(draw: object, *arguments: object) -> list[str]:
    """Every text on a page."""
    with theme.sheet(theme.PORTRAIT_IN) as figure:
        draw(figure, *arguments)  # type: ignore[operator]
        figure.canvas.draw()
        return [t.get_text() for t in (*figure.texts, *(t for a in figure.axes for t in a.texts))]


def test_every_page_bears_the_cautions() -> None:
    """The cautions stand on the page where the user acts."""
    page = " ".join(" ".join(texts(draw_setup, plan(), 1)).split())
    for words in FIELD_CAUTIONS:
        assert words in page


def test_page_shows_the_numbers_of_the_plan() -> None:
    """Zone, packer elements, stick-up, pressure and its limit stand on the page."""
    visit = plan().visits[0]
    page = " | ".join(texts(draw_setup, plan(), 1))
    assert f"{visit.setup.top_m:.2f} to {visit.setup.bottom_m:.2f} m" in page
    assert f"{visit.tally.stick_up_m:.2f} m" in page
    assert f"{visit.inflation.gauge_pa / 1e3:.0f} kPa" in page
    assert "1500 kPa" in page


def test_heading_names_the_packers_of_the_set_ups() -> None:
    """Zones that were advised may have a packer each; the crew takes those, not another."""
    whole = plan()
    packer = replace(whole.packer, packer="P2")
    first, *rest = whole.visits
    other = replace(first, setup=replace(first.setup, packer=packer))
    one, two = replace(whole, visits=(other,)), replace(whole, visits=(other, *rest))
    assert "Field plan of borehole B<1>, packer P2" in texts(draw_overview, one)
    assert "Field plan of borehole B<1>, packers P2 and P1" in texts(draw_overview, two)
    alone = " ".join(
        " ".join(texts(draw_overview, replace(one, untested_m=(), reasons=()))).split()
    )
    assert "only the zones asked for are planned." in alone
    assert "untested" not in alone


def test_no_text_leaves_the_page() -> None:
    """Every text of every page lies on the sheet."""
    pages = [(draw_overview, ()), (draw_list, (0,)), (draw_setup, (1,))]
    for draw, arguments in pages:
        with theme.sheet(theme.PORTRAIT_IN) as figure:
            draw(figure, plan(), *arguments)  # type: ignore[operator]
            figure.canvas.draw()
            sheet = figure.bbox
            for text in figure.texts:
                box = text.get_window_extent()
                assert sheet.x0 <= box.x0, text.get_text()
                assert box.x1 <= sheet.x1, text.get_text()
                assert sheet.y0 <= box.y0, text.get_text()


def test_rows_do_not_touch() -> None:
    """No two texts of the sheet overlap."""
    with theme.sheet(theme.PORTRAIT_IN) as figure:
        draw_setup(figure, plan(), 1)
        figure.canvas.draw()
        boxes = [(t.get_text(), t.get_window_extent()) for t in figure.texts if t.get_text()]
    for k, (words, box) in enumerate(boxes):
        for other, there in boxes[k + 1 :]:
            wide = min(box.x1, there.x1) - max(box.x0, there.x0)
            high = min(box.y1, there.y1) - max(box.y0, there.y0)
            assert wide <= 0 or high <= 1.0, f"{words} / {other}"


def test_blanks_are_left_for_what_was_done() -> None:
    """Position, pipes, pressure and head have a blank; limits have none."""
    rows = {r.label: r for b in sheet_blocks(plan(), plan().visits[0]) for r in b.rows}
    assert rows["Zone"].has_blank
    assert rows["Gauge pressure, gas line"].has_blank
    assert not rows["Never above (maker)"].has_blank


def test_hydraulic_sheet_asks_for_no_sample() -> None:
    """A hydraulic profile has no block on purging, a chemistry plan none on testing."""
    headings = [b.heading for b in sheet_blocks(plan("hydraulic"), plan("hydraulic").visits[0])]
    assert "Purge and sample" not in headings
    headings = [b.heading for b in sheet_blocks(plan("chemistry"), plan("chemistry").visits[0])]
    assert "Hydraulic test" not in headings


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The files of a plan by name, written once."""
    return {p.name: p for p in write_plan(plan(), tmp_path_factory.mktemp("plan"))}


def test_csv_has_columns_of_the_tables(files: dict[str, Path]) -> None:
    """The rows carry columns that the tables know, and required ones are filled."""
    for file, table in (("intervals.csv", "interval"), ("tests.csv", "test")):
        rows = list(csv.DictReader(io.StringIO(files[file].read_text(encoding="utf-8"))))
        schema = TABLES[table]
        assert set(rows[0]) <= {c.name for c in schema.columns}
        assert all(row[name] for row in rows for name in schema.required)
        assert len({row[schema.key[0]] for row in rows}) == len(rows)


def test_filled_tables_load_again(files: dict[str, Path], tmp_path: Path) -> None:
    """Both tables load into a site file as they are, and their rows come back."""
    from geoprofile import app

    made = plan()
    columns = ("borehole", "x", "y", "ground_elevation_m", "depth_m")
    (tmp_path / "boreholes.csv").write_text(
        f"{','.join(columns)}\n{made.borehole},512400,4986200,9,16\n", encoding="utf-8"
    )
    limits = "max_inflation_kpa,seating_pressure_kpa,element_length_m"
    (tmp_path / "packers.csv").write_text(
        f"packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,{limits}\nP1,72,76,122,1500,350,1\n",
        encoding="utf-8",
    )
    site = tmp_path / "site.gpkg"
    app.create(site, crs=CRS, name="made up")
    app.load(site, [tmp_path / "boreholes.csv", tmp_path / "packers.csv"])
    done = app.load(site, [files["intervals.csv"], files["tests.csv"]])
    assert done.loaded["interval"] == len(made.visits)
    assert done.loaded["test"] == 3 * len(made.visits)


def test_planned_tests_do_not_count_until_made(files: dict[str, Path]) -> None:
    """Planned tests say so, and count only when they were made."""
    rows = list(csv.DictReader(io.StringIO(files["tests.csv"].read_text(encoding="utf-8"))))
    assert {row["status"] for row in rows} == {"planned"}


def test_chemistry_plan_writes_no_tests(tmp_path: Path) -> None:
    """Sampling alone plans no hydraulic test."""
    assert "tests.csv" not in {p.name for p in write_plan(plan("chemistry"), tmp_path)}


def test_nothing_is_overwritten_unasked(files: dict[str, Path]) -> None:
    """A second plan is refused, and written when asked; the bytes are the same."""
    first = {p: p.read_bytes() for p in files.values()}
    folder = next(p for p in files.values() if p.suffix == ".pdf").parent
    with pytest.raises(UsageError, match="--overwrite"):
        write_plan(plan(), folder)
    assert first == {p: p.read_bytes() for p in write_plan(plan(), folder, overwrite=True)}


def test_page_escapes_the_users_text() -> None:
    """A name with angle brackets stays text; every identifier of a drawing is its own."""
    page = plan_html(plan())
    assert "B&lt;1&gt;" in page
    assert "B<1>" not in page
    ids = [part.split('"')[0] for part in page.split(' id="')[1:]]
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(45.0, "45 s"), (720.0, "12 min"), (12600.0, "3.5 h"), (float("inf"), "for ever")],
)
def test_durations_are_for_people(seconds: float, words: str) -> None:
    """Seconds, minutes and hours as they fit."""
    assert hours(seconds) == words


def test_numbers_are_short() -> None:
    """Two digits, no padded exponent."""
    assert short(9.76e-6) == "9.8e-6"


def test_spread_keeps_order_and_gap() -> None:
    """Labels closer than the gap are moved apart, others stay."""
    placed = spread([1.0, 1.1, 5.0], 0.5)
    assert placed[1] - placed[0] >= 0.5 - 1e-9
    assert placed == sorted(placed)


def test_letters_of_the_pdf_are_whole_fonts(files: dict[str, Path]) -> None:
    """Letters drawn as shapes of their own lost joined ones such as fi and fl."""
    raw = next(p for p in files.values() if p.suffix == ".pdf").read_bytes()
    assert b"/CIDFontType2" in raw
    assert b"/Type3" not in raw
