"""The contract of products, and of each family of plugins: test methods, layers, export formats.

A plugin is one file in a family folder that defines `PLUGIN`, or an installed package that offers
the same object under the entry point group `geoprofile.<family>`. A product is a package with
`LAYERS` and `OFFERS`: a folder in `products/`, or an installed one that the entry point group
`geoprofile.products` names.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
    from geoprofile.site import Site

Value = bool | int | float | str | list[float] | list[str]


class Progress(Protocol):
    """How a long computation says how far it is; called with done and total."""

    def __call__(self, done: int, total: int) -> None:
        """Report `done` of `total` equal pieces."""


def no_progress(done: int, total: int) -> None:
    """Say nothing."""


@dataclass(frozen=True)
class Setting:
    """One choice that the user may make, with its default; also a key in site.toml."""

    name: str
    default: Value
    unit: str
    meaning: str
    allowed: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Layer:
    """A derived layer: a function from a Site to one or more whole tables.

    `reads` names the tables whose change makes the layer stale, `writes` the tables it replaces.
    `compute(site, settings, progress)` returns a frame for every table in `writes`; it may add rows
    for the table `finding` under that name: what the reader must know, and what to do about it.
    """

    name: str
    summary: str
    reads: tuple[str, ...]
    writes: tuple[str, ...]
    compute: Callable[[Site, Mapping[str, Any], Progress], Mapping[str, pd.DataFrame]]
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class Method:
    """A way to turn one hydraulic test into K.

    `applies` says whether the method fits the test and why; `run` fits it; `example(k)` makes a
    synthetic test whose K [m/s] is known, for the contract check.
    """

    name: str
    title: str
    kinds: tuple[str, ...]
    applies: Callable[[HydraulicTest], Applicability]
    run: Callable[[HydraulicTest], Conductivity]
    example: Callable[[float], HydraulicTest]
    source: str
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class Loss:
    """What a file could not carry as it was: where, which kind of loss, and how much in words.

    `kind` is one of `LOSS_KINDS`.
    """

    where: str
    kind: str
    what: str

    def __str__(self) -> str:
        """`<where>: <kind>: <what>`."""
        return f"{self.where}: {self.kind}: {self.what}"


LOSS_KINDS = ("renamed", "cut", "rounded", "dropped", "changed", "not shifted")


@dataclass(frozen=True)
class Written:
    """What a format wrote: names of files relative to the folder, and what they could not carry."""

    files: tuple[str, ...]
    losses: tuple[Loss, ...] = ()


@dataclass(frozen=True)
class Format:
    """A way to hand layers over; `write(site, folder, settings)` returns files and losses.

    `folder` is an empty folder that exists; the runner checks the files and moves them into place.
    `site` holds only what may leave. `needs` is the optional part of the package that it takes
    (`pip install geoprofile[<needs>]`), "" for none.
    """

    name: str
    summary: str
    suffix: str
    write: Callable[[Site, str, Mapping[str, Any]], Written]
    needs: str = ""
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class ReportPart:
    """A part of the report: a title, sentences, and a table with a heading per column.

    All of it is plain text and numbers; the report escapes and lays it out. `name` is the part's
    anchor in the page; a part without paragraphs and rows is left out.
    """

    name: str
    title: str
    paragraphs: tuple[str, ...] = ()
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str | int | float | None, ...], ...] = ()


@dataclass(frozen=True)
class LegendPlace:
    """Where a table stands in the legend of the GIS project.

    `group` is one of the project's or a new one; `rank` counts from its top, across products, and
    input tables come after. `below` puts the layer under all other groups on the map, the higher
    the deeper; 0 leaves it among points and lines. With `by_theme` it is on where it shows what the
    project opens with: its substance, round and level.
    """

    group: str
    rank: int
    below: int = 0
    by_theme: bool = False


OFFERS: Mapping[str, str] = {
    "tables": "a tuple of schema.table.Table: the derived tables of the product's layers",
    "looks": "a mapping of table to drawing.styles.classes.Look: how the GIS draws it",
    "figures": "(site, folder) -> (what it is, function that draws it and returns paths) of a run",
    "summary": "(site) -> sentences for the closing words of a run",
    "report": "(site) -> ReportPart records",
    "key_figures": "(site) -> (figure with its unit, item, value), compared between runs",
    "group": "the group of the GIS project that holds the product's tables",
    "legend": "a mapping of table to LegendPlace, where the product's tables need an order in it",
    "limits": "(site) -> sentences that limit all that follows, said first",
    "records": "(site) -> sentences on how earlier predictions did",
    "steps": "(site) -> sentences on the next steps",
    "programme": "(site) -> sentences on the programme of field work",
    "gas rasters": "(site) -> fields of soil gas at depths below ground, with what their maps show",
    "model figures": "(site) -> (what it is, name of the file, function that draws it to a stem)",
    "gas figures": "(site) -> (what it is, function that draws it to a stem) of soil gas maps",
    "to_keep": "(before, after, derived) -> (table, rows that outlive the next run)",
    "field": "(site, quantity, round) -> the model of a quantity; one product alone",
    "vertical_levels": "(intervals, holes, survey) -> intervals; one product alone",
}
"""What a product may offer to the rest of the program, by name, and in which form."""

FAMILIES: Mapping[str, type] = {"methods": Method, "layers": Layer, "formats": Format}
