"""The Site: a frozen snapshot of one GeoPackage, which every layer and figure starts from."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataError
from geoprofile.schema import TABLES

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.products.model.fitted import Field


@dataclass(frozen=True, eq=False)
class Site:
    """One site: its name, reference systems, settings and tables.

    `tables` holds a frame per table that the file has; field and derived tables with a geometry
    are GeoDataFrames with the column `geometry`. Frames must not be changed in place.
    `settings` is what site.toml says; `used` holds the settings by which the derived tables of each
    layer were made, which a command may have given: `steps.settings_used` is the way to them.
    """

    name: str
    crs: str
    vertical_datum: str
    settings: Mapping[str, Any] = field(default_factory=dict)
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    path: str = ""
    used: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def table(self, name: str) -> pd.DataFrame:
        """The rows of a table; an empty frame with its columns when it has none."""
        if name not in TABLES:
            raise DataError(
                "site", f"no table '{name}'", f"one of {', '.join(TABLES)}", "Check the name."
            )
        if name in self.tables:
            return self.tables[name]
        return empty_frame(name, self.crs)

    def with_tables(self, tables: Mapping[str, pd.DataFrame]) -> Site:
        """The same site with some tables replaced."""
        return replace(self, tables={**self.tables, **tables})

    def only(self, names: Collection[str]) -> Site:
        """The same site with some of its tables; to ask it for another is an error.

        What says how it came about is left out: by which run, where, with which settings.
        """
        held = {t: self.table(t).drop(columns="run", errors="ignore") for t in names}
        return _Only(self.name, self.crs, self.vertical_datum, self.settings, held)

    def part(self, names: Collection[str]) -> Part:
        """Some of its tables as they are, and no settings: to ask for more is an error."""
        return Part.of(self, names)

    @property
    def lacks_nothing(self) -> bool:
        """Whether a table that is not held is one without rows."""
        return True

    def content(self) -> tuple[Any, ...]:
        """All that the site holds, as plain values: what looks the same is the same."""
        said = json.dumps(self.settings, sort_keys=True, default=str)
        rows = {name: records_of(frame) for name, frame in self.tables.items()}
        return self.name, self.crs, self.vertical_datum, said, rows

    def made_with(self, layer: str, settings: Mapping[str, Any]) -> Site:
        """The same site, whose tables of that layer were made with these settings."""
        return replace(self, used={**self.used, layer: dict(settings)})

    def settings_of(self, step: str) -> Mapping[str, Any]:
        """What site.toml says under the name of a step, for the engine that chooses settings."""
        found = self.settings.get(step, {})
        return found if isinstance(found, Mapping) else {}

    def field(self, quantity: str, *, round: str | None = None) -> Field:
        """The fitted field of a quantity ("K" or an analyte); the latest round by default."""
        from geoprofile.plugins.registry import offered

        fitted: Field = offered("field")(self, quantity, round)
        return fitted

    @property
    def boreholes(self) -> pd.DataFrame:
        """Table `borehole`."""
        return self.table("borehole")

    @property
    def intervals(self) -> pd.DataFrame:
        """Table `interval`."""
        return self.table("interval")

    @property
    def tests(self) -> pd.DataFrame:
        """Table `test`."""
        return self.table("test")

    @property
    def conductivity(self) -> pd.DataFrame:
        """Table `interval_conductivity`: one K per interval."""
        return self.table("interval_conductivity")

    @property
    def concentration(self) -> pd.DataFrame:
        """Table `concentration`."""
        return self.table("concentration")


@dataclass(frozen=True, eq=False)
class _Only(Site):
    """A site that holds some tables, and answers for no other."""

    def table(self, name: str) -> pd.DataFrame:
        """One of its tables."""
        return self.tables[name]

    @property
    def lacks_nothing(self) -> bool:
        """To ask for a table that is not held is an error."""
        return False


@dataclass(frozen=True, eq=False)
class Part(Site):
    """Some tables of a site, which is asked for them; `asked` are those that were wanted."""

    whole: Site | None = None
    names: frozenset[str] = frozenset()
    asked: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, whole: Site, names: Collection[str]) -> Part:
        """Of a site, or of a part of one."""
        held = {t: whole.tables[t] for t in names if t in whole.tables}
        of_site = (whole.name, whole.crs, whole.vertical_datum, _NOT_TOLD, held)
        return cls(*of_site, whole=whole, names=frozenset(names))

    def table(self, name: str) -> pd.DataFrame:
        """One of its tables, empty where the site has no row."""
        if name not in self.names or self.whole is None:
            raise KeyError(name)
        self.asked.add(name)
        return self.whole.table(name)

    @property
    def lacks_nothing(self) -> bool:
        """As the site."""
        return self.whole is not None and self.whole.lacks_nothing


class _NotTold(dict[str, Any]):
    """Settings of a part of a site, which has none to tell."""

    def get(self, key: str, default: Any = None) -> Any:
        """Refuse, as a table is refused that the part has not."""
        raise KeyError(f"settings of {key}: a part of a site has none")


_NOT_TOLD = _NotTold()


def empty_frame(name: str, crs: str) -> pd.DataFrame:
    """A frame without rows that has the columns of the table, typed as the schema says."""
    return _empty_frame(name, crs).copy()


@cache  # some 5 ms each, and a run asks for every table several times
def _empty_frame(name: str, crs: str) -> pd.DataFrame:
    import pandas as pd

    table = TABLES[name]
    types = {"text": "str", "real": "float64", "integer": "Int64", "boolean": "boolean"}
    columns = {c.name: pd.Series([], dtype=types.get(c.kind, "str")) for c in table.columns}
    frame = pd.DataFrame(columns)
    if table.geometry is None:
        return frame
    import geopandas as gpd

    plane = None if table.plane == "section" else crs
    spatial: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=gpd.GeoSeries([], crs=plane))
    return spatial


def records_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as mappings with plain values, None for every empty cell; the geometry is kept."""
    if not len(frame):
        return []
    import pandas as pd

    names = [str(name) for name in frame.columns]
    columns = [_plain(column) for _, column in pd.DataFrame(frame).items()]
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def _plain(column: pd.Series[Any]) -> list[Any]:
    """Values as Python has them, None for an empty cell."""
    values: list[Any] = column.astype(object).tolist()
    for row in column.isna().to_numpy().nonzero()[0].tolist():
        values[row] = None
    return values
