"""Nobody meets the words that the trade does not use."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from geoprofile.cli import cli
from geoprofile.report.page import page
from geoprofile.schema import TABLES
from geoprofile.site import Site
from geoprofile.store import Store

TOP = Path(__file__).parents[2]
# coined, or another thing in a borehole: what is said instead stands behind it
WORDS = {
    "foretell": "predict",
    "foretold": "predicted",
    "foretells": "predicts",
    "field table": "input table",
    "field tables": "input tables",
    "plug": "plugin",
    "plugs": "plugins",
    "outlook": "remaining uncertainty",
    "gland": "packer element",
    "glands": "packer elements",
    "stage": "pressure step",
    "stages": "pressure steps",
    "spoilt": "corrupt",
    "mend": "repair",
    "veil": "fade",
    "undecided": "uncertain",
    "held head": "constant head",
    "held-head": "steady-anisotropic",
    "swing": "oscillation",
    "tight roof": "impermeable upper boundary",
    "wrongly classified volume": "volume of uncertain classification",
    "from gland to gland": "between the packer elements",
    "open lengths": "test interval lengths",
    "displacement that was meant": "nominal initial displacement",
    "temperature in place": "in-situ temperature",
    "edge to border": "distance to the site boundary",
    "colours fade where unsure": "beyond this line the uncertainty exceeds",
    "as likely above as below": "50 % probability",
    "chance above it": "probability of exceedance",
    "white diamond": "not detected at this elevation",
    "flat is honest": "calibrated if uniform",
    "honest field": "calibrated model",
    "say nothing but errors": "suppress all output except errors",
    "stale or not": "even if up to date",
    "takes for ever": "yields too little to purge",
    "who answers for the site": "the person responsible for the site",
    "it has not seen": "held-out",
    "boreholes left out": "held-out boreholes",
}
BANNED = re.compile(rf"(?<![\w-])({'|'.join(WORDS)})(?![\w-])", re.IGNORECASE)
MOST = 45  # characters of a summary, so that the list of commands is not cut


def words_of(text: str) -> list[str]:
    """The banned words in a text."""
    return [found.group(1) for found in BANNED.finditer(text)]


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_pages_speak_the_words_of_the_trade(name: str) -> None:
    """The two pages that people read first."""
    assert words_of((TOP / name).read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("page", sorted((TOP / "geoprofile" / "reference").glob("*.md")), ids=str)
def test_reference_speaks_the_words_of_the_trade(page: Path) -> None:
    """Helps, tables, columns, methods and settings, as they are printed."""
    assert words_of(page.read_text(encoding="utf-8")) == []


def test_figures_and_report_of_the_demonstration_speak_them_too(demo_run: Path) -> None:
    """What is written in the drawings, and the page that goes to a client."""
    figures = sorted((demo_run / "out").glob("*.svg"))
    assert figures
    for path in figures:
        texts = re.findall(r"<!-- (.*?) -->", path.read_text(encoding="utf-8"), re.DOTALL)
        assert len(texts) > 10, path.name  # each text of a drawing stands in a comment beside it
        assert words_of("\n".join(texts)) == [], path.name
    shown = re.sub(r"<(style|script)>.*?</\1>|<[^>]*>", " ", page(_site(demo_run)), flags=re.DOTALL)
    assert len(shown) > 10_000
    assert words_of(shown) == []


def _site(folder: Path) -> Site:
    (path,) = folder.glob("*.gpkg")
    return Store.open(path).read()


@pytest.mark.parametrize("name", TABLES)
def test_names_are_words_of_the_trade(name: str) -> None:
    """Tables and columns, word by word."""
    for text in (name, *(c.name for c in TABLES[name].columns)):
        assert words_of(text.replace("_", " ")) == []


@pytest.mark.parametrize("name", sorted(cli.list_commands(click.Context(cli))))
def test_summaries_are_not_cut(name: str) -> None:
    """Each fits on its line of `geoprofile --help`."""
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    first = re.split(r"\.(?:\s|$)", str(command.help), maxsplit=1)[0]
    assert len(first) + 1 <= MOST, first


def test_a_banned_word_is_found() -> None:
    """The search itself works, capitals and line ends included."""
    assert words_of("What was\nForetold, and the plug.") == ["Foretold", "plug"]
    assert words_of("a plugin, recommended, amended") == []
