"""A product of another package that fails when asked costs one line, not the command."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest

from geoprofile.app import deriving, figures
from geoprofile.errors import DiskError
from geoprofile.plugins import ReportPart, registry
from geoprofile.report import offered, summary
from geoprofile.report.key_figures import key_figures
from geoprofile.site import Site
from geoprofile.store import Store

NAME = "made_up_product"
WHAT = (
    "limits", "summary", "steps", "records", "report", "figures", "gas figures", "to_keep",
    "key_figures",
)  # fmt: skip


@pytest.fixture
def product(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """A package that offers everything of words and figures, each a division by zero."""
    package, inner = ModuleType(NAME), ModuleType(f"{NAME}.inner")
    package.LAYERS = ()  # type: ignore[attr-defined]
    package.OFFERS = dict.fromkeys(WHAT, "inner:ask")  # type: ignore[attr-defined]
    inner.ask = lambda *_: 1 / 0  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, NAME, package)
    monkeypatch.setitem(sys.modules, f"{NAME}.inner", inner)
    before = registry._products()
    monkeypatch.setattr(registry, "_products", lambda: (*before, package))
    return inner


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """A site without a row."""
    place = tmp_path_factory.mktemp("site") / "s.gpkg"
    return Store.create(place, crs="EPSG:32632", name="made up", vertical_datum="").read()


def test_the_closing_words_tell_it_and_go_on(product: ModuleType, site: Site) -> None:
    """A line for each question that was not answered; the caution still ends the words."""
    said = summary.summary(site)
    for what in ("limits", "summary", "records"):
        (line,) = (x for x in said if x.startswith(f"Not told: the {what} of {NAME} ("))
        assert "ZeroDivisionError" in line
        assert "\n" not in line
    assert any(f"Not told: the steps of {NAME}" in x for x in said)
    assert said[-1].startswith("Caution")


def test_the_report_has_a_sentence_in_its_place(product: ModuleType, site: Site) -> None:
    """A part under the name of the product says that it could not be made."""
    part = offered.offered_parts(site)[-1]
    assert part.title == "Made up product"
    assert part.paragraphs[0].startswith("Not told: this part of the report (an error")
    assert "ZeroDivisionError" in offered.drawn(part)


def test_a_table_with_too_few_cells_costs_its_part_alone(product: ModuleType, site: Site) -> None:
    """Two headings, one cell."""
    part = ReportPart("short", "Short", (), ("a", "b"), (("1",),))
    assert "Not told: Short (an error of the program, IndexError" in offered.drawn(part)


def test_its_figures_are_told_as_not_drawn(product: ModuleType, site: Site, tmp_path: Path) -> None:
    """One remark each for its figures and its maps of soil gas."""
    remarks = figures.draw_run(site, tmp_path).remarks
    assert sum(NAME in x for x in remarks) == 1
    assert any(x.startswith(f"Not drawn: the figures of {NAME} (") for x in remarks)
    assert any(x.startswith("Not drawn: maps of soil gas (") for x in remarks)


def test_a_function_that_is_not_there_is_told_too(product: ModuleType, site: Site) -> None:
    """OFFERS names what the package does not have."""
    del product.ask
    said = summary.summary(site)
    assert any(f"Not told: the summary of {NAME} (" in x and "not there" in x for x in said)


def test_key_figures_of_the_others_are_told(product: ModuleType, site: Site) -> None:
    """One line for its own; a number that is none costs a line, too."""
    _, (line,) = key_figures(site)
    assert line.startswith(f"Not told: the key figures of {NAME} (")
    product.ask = lambda *_: [("length_m", "B1", [])]  # type: ignore[attr-defined]
    _, (line,) = key_figures(site)
    assert "TypeError" in line


def test_what_it_keeps_costs_a_line(product: ModuleType, site: Site) -> None:
    """It fails, or keeps what is no row of a forecast: nothing is kept."""
    answers = (
        lambda *_: 1 / 0,
        lambda *_: [("forecast", 1)],
        lambda *_: [("borehole", site.boreholes)],
        lambda *_: [("run", site.table("run"))],
        lambda *_: [("forecast", site.boreholes)],
    )
    for answer in answers:
        product.ask = answer  # type: ignore[attr-defined]
        kept, (line,) = deriving._to_keep(site, site, {})
        assert kept == {}
        assert line.startswith(f"Not kept: forecasts of {NAME} (")


def test_a_full_disk_is_not_the_fault_of_a_product(product: ModuleType, site: Site) -> None:
    """It stops the command as what it is."""

    def full(*_: object) -> None:
        raise DiskError("s.gpkg", "no space left", "room", "Make room.")

    product.ask = full  # type: ignore[attr-defined]
    with pytest.raises(DiskError):
        summary.summary(site)
