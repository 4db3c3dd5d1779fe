"""Looks at a site file without changing it, and repairs it when asked to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.app.history import history
from geoprofile.drawing.people import in_units, shown_by, shown_of
from geoprofile.store import Store
from geoprofile.store.listing import check_columns, in_the_singular, listing

if TYPE_CHECKING:
    from geoprofile.site import Site


RUNS = "runs"  # beside the tables of the schema: the list of runs in words


def read(path: Path) -> Site:
    """A frozen snapshot of a site file.

    Parameters
    ----------
    path : Path
        Site file.

    Returns
    -------
    Site
        All tables.
    """
    return Store.open(path).read()


def open_site(path: str | Path) -> Site:
    """A frozen snapshot of a site file, for work in Python.

    Parameters
    ----------
    path : str or Path
        Site file.

    Returns
    -------
    Site
        Its tables, and `site.field(quantity)` for the fitted fields.
    """
    return read(Path(path))


def plain_rows(site: Site, table: str, columns: Sequence[str]) -> list[tuple[Any, ...]]:
    """Columns of a table as plain Python values, None for what is empty.

    Parameters
    ----------
    site : Site
        Snapshot.
    table : str
        Table of the schema.
    columns : Sequence of str
        Its columns.

    Returns
    -------
    list of tuple
        One per row.
    """
    chosen = site.table(table)[list(columns)].astype(object)
    return [
        tuple(_cell(value) for value in row)
        for row in chosen.where(chosen.notna(), None).to_numpy()
    ]


def as_read(
    site: Site, names: Sequence[str], rows: Sequence[Sequence[Any]]
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """Rows in the units that people read at a site, under names that end in them.

    Parameters
    ----------
    site : Site
        Its [units].
    names : Sequence of str
        Columns.
    rows : Sequence of Sequence
        As stored.

    Returns
    -------
    tuple of list of str and list of tuple
        Names and rows.
    """
    return in_units(names, rows, shown_of(site))


def _cell(value: Any) -> Any:
    """A plain value that JSON and CSV can hold."""
    return value.item() if hasattr(value, "item") else value


def show(
    path: Path,
    table: str | None,
    columns: Sequence[str] | None = None,
    *,
    for_people: bool = False,
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """A table of a site file, as it is stored, or in the units that people read there.

    Parameters
    ----------
    path : Path
        Site file.
    table : str or None
        Table of the schema, its name in the plural, `runs` or `quantities`; None lists the tables.
    columns : Sequence of str, optional
        All but the geometry when left out.
    for_people : bool
        In the units of [units] in site.toml, with names that end in them.

    Returns
    -------
    tuple of list of str and list of tuple
        Names and rows.

    Raises
    ------
    DataError
        No such table or column.
    """
    if table == RUNS:
        known, rows = history(path)
        check_columns(table, columns or (), known)
        places = [known.index(name) for name in columns or known]
        return list(columns or known), [tuple(row[i] for i in places) for row in rows]
    store = Store.open(path)
    if columns is None or "geometry" not in columns:
        names, rows = listing(store, table, columns)
    else:
        name, site = in_the_singular(table or ""), read(path)
        check_columns(name, columns, list(site.table(name).columns))
        names, rows = list(columns), plain_rows(site, name, columns)
    said = store.settings().get("units", {}) if for_people and table else {}
    return in_units(names, rows, shown_by(said)) if said else (names, rows)


def check(
    path: Path, *, repair: bool = False, tell: Callable[[str], None] = lambda remark: None
) -> list[tuple[str, str, str, str, str]]:
    """What is damaged in a site file, each with the first thing to do.

    Parameters
    ----------
    path : Path
        Site file.
    repair : bool
        Repair what can be repaired from what is there, after a safety copy.
    tell : callable
        Told of what lay beside the site file and had to go.

    Returns
    -------
    list of tuple of str
        Code, severity, place, what, what to do; empty when sound.

    Raises
    ------
    UsageError
        There is no such file.
    """
    from geoprofile.store import inspect

    if repair:
        from geoprofile.store import repair as repair_file

        repair_file(path, tell)
    return [(f.code, f.severity, f.place, f.what, f.what_to_do) for f in inspect(path)]
