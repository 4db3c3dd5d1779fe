"""What the report draws from: every table as plain rows, whatever columns were kept back."""

from __future__ import annotations

import json
import math
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.names import short_names
from geoprofile.drawing.symbols import stratigraphic
from geoprofile.schema import TABLES
from geoprofile.schema.soil_gas import IN_GAS, SOIL_GAS

if TYPE_CHECKING:
    from geoprofile.site import Site

Row = dict[str, Any]
K = "K"


@dataclass(frozen=True)
class Content:
    """A site as rows: every column of the schema is there, None where it is empty or kept back."""

    site: Site
    _cache: dict[str, list[Row]] = field(default_factory=dict)
    chosen: str | None = None
    most_sections: int | None = None

    def only(self, quantity: str, most_sections: int | None = None) -> Content:
        """The same with this quantity alone, and so many sections, to be shown."""
        return Content(self.site, self._cache, quantity, most_sections)

    def rows(self, table: str) -> list[Row]:
        """The rows of a table; `geometry` among the columns where it has shapes."""
        if table not in self._cache:
            self._cache[table] = self._read(table)
        return self._cache[table]

    def _read(self, table: str) -> list[Row]:
        frame = self.site.tables.get(table)
        names = [c.name for c in TABLES[table].columns]
        if TABLES[table].geometry:
            names.append("geometry")
        if frame is None or frame.empty:
            return []
        columns = {
            n: [_plain(v) for v in frame[n].astype(object)] if n in frame else [None] * len(frame)
            for n in names
        }
        return [
            dict(zip(columns, values, strict=True))
            for values in zip(*columns.values(), strict=True)
        ]

    @cached_property
    def holes(self) -> dict[str, int]:
        """The number of each borehole in the page, by its name."""
        return {str(r["borehole"]): i for i, r in enumerate(self.rows("borehole"))}

    @cached_property
    def names(self) -> dict[str, str]:
        """A short name of each borehole for drawings; of long ones the common part is cut."""
        return short_names(self.holes)

    def hole(self, row: Row) -> int | None:
        """The number of a row's borehole."""
        return self.holes.get(str(row.get("borehole")))

    @cached_property
    def analytes(self) -> list[str]:
        """Substances, those above their criterion in the most intervals first."""
        above = Counter(
            str(r["analyte"]) for r in self.latest if r["exceeds"] and r["medium"] != SOIL_GAS
        )
        names = {str(r["analyte"]) for r in self._of_medium(gas=False)}
        return sorted(names, key=lambda n: (-above[n], n))

    @cached_property
    def quantities(self) -> list[str]:
        """What maps, sections and profiles can show: substances in water, in soil gas, then K."""
        gas = sorted({f"{r['analyte']}{IN_GAS}" for r in self._of_medium(gas=True)})
        found = [*self.analytes, *gas, *([K] if self.rows("interval_conductivity") else [])]
        return found if self.chosen is None else [q for q in found if q == self.chosen]

    @cached_property
    def latest_rounds(self) -> dict[str, str | None]:
        """The round or campaign sampled last, by substance; soil gas is a quantity of its own."""
        latest: dict[str, Row] = {}
        for row in self.rows("concentration"):
            name = _quantity(row)
            latest[name] = max(latest.get(name, row), row, key=_sampled)
        return {name: row["round"] for name, row in latest.items()}

    def _of_medium(self, *, gas: bool) -> list[Row]:
        rows = self.rows("concentration")
        return [r for r in rows if r["analyte"] and (r["medium"] == SOIL_GAS) == gas]

    @cached_property
    def latest(self) -> list[Row]:
        """The concentrations of each substance's latest round."""
        rounds = self.latest_rounds
        return [r for r in self.rows("concentration") if r["round"] == rounds[_quantity(r)]]

    @cached_property
    def units(self) -> list[str]:
        """Logged units from the youngest to the oldest."""
        return stratigraphic(
            (str(r["unit"]), str(r["borehole"]), float(r["top_m"]))
            for r in self.rows("lithology")
            if r["top_m"] is not None
        )

    @cached_property
    def runs(self) -> dict[int, Row]:
        """Runs by number."""
        return {int(r["run"]): r for r in self.rows("run")}

    @cached_property
    def files(self) -> dict[str, int]:
        """The number of each source file in the page, by its name."""
        return {str(r["source_file"]): i for i, r in enumerate(self.rows("source_file"))}

    @cached_property
    def file_of(self) -> dict[tuple[str, str], str]:
        """The file that a row was loaded from, by table and key (the first part of it)."""
        found: dict[tuple[str, str], str] = {}
        for row in self.rows("loaded"):
            key = _first(str(row["row_key"]))
            found[str(row["source_table"]), key] = str(row["source_file"])
        return found


def _plain(value: Any) -> Any:
    """None for what is empty, Python's own types for numbers."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if hasattr(value, "item"):
        return _plain(value.item())
    return None if str(value) in ("<NA>", "NaT") else value


def _first(key: str) -> str:
    """The first part of a stored key, which may be a list in JSON."""
    if key.startswith("["):
        try:
            return str(json.loads(key)[0])
        except (json.JSONDecodeError, IndexError):
            return key
    return key


def _quantity(row: Row) -> str:
    """The substance, with its medium where that is soil gas."""
    return str(row["analyte"]) + (IN_GAS if row["medium"] == SOIL_GAS else "")


def _sampled(row: Row) -> tuple[str, str]:
    """When a row was sampled, then its round, in a form that sorts."""
    return str(row["sampled_at"] or ""), str(row["round"])
