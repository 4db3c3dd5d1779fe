"""One-way push of what was gathered to a PostGIS database: all tables as a whole, or none.

Only tables that carry this program's mark are replaced; nothing is ever read back.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DiskError, UsageError
from geoprofile.formats._common import cells, library
from geoprofile.portfolio.dataset import PART
from geoprofile.portfolio.facts import SITES, TESTS
from geoprofile.schema import TABLES, Column, Table
from geoprofile.schema.wording import explain
from geoprofile.store.core import wgs84
from geoprofile.store.layout import FID, GEOMETRY, geometry_type, has_z

if TYPE_CHECKING:
    import pandas as pd

SCHEMES = ("postgresql://", "postgres://")
MARK = "Written by geoprofile, replaced by its next push"
NO_PLACE = 0  # what PostGIS takes for shapes that lie on no map
WAIT_S = 10  # [s] for the server to answer
MOST_SAID = 300  # characters of what the server says
SITE = Column("site", "text", "", "Name within the portfolio", required=True)
TYPES = {
    "text": "text",
    "real": "double precision",
    "integer": "bigint",
    "boolean": "boolean",
    "datetime": "timestamptz",
    "date": "date",
}
Rows = Iterator[tuple[Any, ...]]


def push(address: str, schema: str, dataset: Path, package: Sequence[pd.DataFrame]) -> list[str]:
    """Replace the tables of a portfolio in a database.

    Parameters
    ----------
    address : str
        postgresql://user@host/database; a password is better kept where libpq looks for it.
    schema : str
        Schema of the database, made where it is not there.
    dataset : Path
        Folder of the GeoParquet dataset.
    package : sequence of DataFrame
        The rows of `SITES`, with points in degrees as `geometry`, and those of `TESTS`.

    Returns
    -------
    list of str
        Names of the tables written.

    Raises
    ------
    UsageError
        An address of another kind, no answer, no PostGIS there, a table of that name that is not
        this program's, or a library that is not installed.
    DiskError
        The server refused or the connection ended; the database is as before.
    """
    with _transaction(address) as connection:
        _need_postgis(connection)
        # two pushes at the same moment would each leave its rows beside those of the other
        connection.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", (f"{MARK} {schema}",))
        _run(connection, "CREATE SCHEMA IF NOT EXISTS {}", (schema,))
        ours = _ours(connection, schema)
        written = []
        for table, rows in _tables(dataset, package):
            _make(connection, schema, table, ours)
            _copy(connection, schema, table, rows)
            written.append(table.name)
        for name in sorted(set(ours) - set(written)):
            _run(connection, "DROP TABLE {}", (schema, name))
    return written


def refuse_unusable(address: str) -> None:
    """UsageError where a push could not even begin; to be asked before hours of work."""
    with _transaction(address) as connection:
        _need_postgis(connection)


def told(address: str) -> str:
    """An address without user, password and options."""
    scheme, _, rest = address.partition("://")
    return f"{scheme}://{rest.partition('?')[0].rpartition('@')[2]}"


@contextmanager
def _transaction(address: str) -> Iterator[Any]:
    """A connection whose changes are kept if all went well."""
    if not address.startswith(SCHEMES):
        raise UsageError(
            "--to",
            f"an address that begins with '{address.partition('/')[0][:20]}'",
            "postgresql://user@host/database",
            "Give the address of the database.",
        )
    psycopg = library("psycopg", "postgis")
    try:
        connection = psycopg.connect(address, connect_timeout=WAIT_S)
    except psycopg.ProgrammingError as error:  # its words hold the address, and so a password
        raise UsageError(
            "--to",
            f"an address that cannot be understood, {told(address)}",
            "postgresql://user@host/database",
            "Write what is not a letter or a number in user and password as %XX.",
        ) from error
    except psycopg.Error as error:
        raise UsageError(
            "--to",
            f"no way into {told(address)} ({_said(error)})",
            "a database that lets you in",
            "Check host, user and database. A password is best kept in PGPASSWORD or ~/.pgpass.",
        ) from error
    with connection:
        try:
            yield connection
            connection.commit()
        except psycopg.Error as error:
            raise DiskError(
                told(address),
                f"that the server stopped the push ({_said(error)})",
                "a database that takes the tables",
                "The database is as before. Mend what it says, then push again.",
            ) from error


def _said(error: Exception) -> str:
    return " ".join(str(error).split())[:MOST_SAID] or type(error).__name__


def _run(connection: Any, text: str, *names: Any) -> Any:
    """Run a statement whose {} stand for quoted names."""
    from psycopg import sql

    places = [sql.Identifier(*name) if isinstance(name, tuple) else name for name in names]
    return connection.execute(sql.SQL(text).format(*places))


def _need_postgis(connection: Any) -> None:
    if not connection.execute("SELECT 1 FROM pg_extension WHERE extname = 'postgis'").fetchone():
        raise UsageError(
            "--to",
            "a database without PostGIS",
            "one that has the extension",
            "Ask its owner for: CREATE EXTENSION postgis.",
        )


def _ours(connection: Any, schema: str) -> dict[str, str]:
    """What the schema holds under this program's mark: by table the text that describes it.

    UsageError where a table of ours would take the place of somebody's.
    """
    found = dict(
        connection.execute(
            "SELECT c.relname, coalesce(obj_description(c.oid, 'pg_class'), '') FROM pg_class c "
            "JOIN pg_namespace n ON n.oid = c.relnamespace "
            "WHERE n.nspname = %s AND c.relkind IN ('r', 'p', 'v', 'm', 'f')",
            (schema,),
        ).fetchall()
    )
    marked = {name: said for name, said in found.items() if said.startswith(MARK)}
    for name in (SITES.name, TESTS.name, *TABLES):
        if name in found and name not in marked:
            raise UsageError(
                f"{schema}.{name}",
                "a table that this program did not write",
                "a schema where that name is free",
                "Choose another with --schema; nothing was changed.",
            )
    return marked


def _tables(dataset: Path, package: Sequence[pd.DataFrame]) -> Iterator[tuple[Table, Rows]]:
    """Every table with its rows, read site by site."""
    for table, frame in zip((SITES, TESTS), package, strict=True):
        yield table, _rows(table, frame, None)
    for folder in sorted(p for p in dataset.glob("*") if p.name in TABLES):
        own = TABLES[folder.name]
        table = replace(own, columns=(SITE, *(c for c in own.columns if c.name != SITE.name)))
        yield table, _partitions(table, folder)


def _partitions(table: Table, folder: Path) -> Rows:
    import geopandas
    import pandas as pd

    read = geopandas.read_parquet if table.geometry else pd.read_parquet
    for path in sorted(folder.glob(f"site=*/{PART}")):
        yield from _rows(table, read(path), path.parent.name.partition("=")[2])


def _rows(table: Table, frame: pd.DataFrame, site: str | None) -> Rows:
    """The cells of a frame in the order of the columns; shapes as hexadecimal EWKB."""
    import shapely

    length = len(frame)
    columns: list[list[Any]] = []
    for column in table.columns:
        if site is not None and column.name == SITE.name:
            columns.append([site] * length)
        elif column.name in frame.columns:
            columns.append(cells(frame[column.name]))
        else:  # a column that joined after that site was computed
            columns.append([None] * length)
    if table.geometry:
        force = shapely.force_3d if has_z(table) else shapely.force_2d
        shapes = shapely.set_srid(force(frame["geometry"].to_numpy()), _srid(table))
        columns.append(list(shapely.to_wkb(shapes, hex=True, include_srid=True)))
    yield from zip(*columns, strict=True)


def _srid(table: Table) -> int:
    return wgs84().srs_id if table.plane == "site" else NO_PLACE


def _make(connection: Any, schema: str, table: Table, ours: dict[str, str]) -> None:
    """An empty table: the one that is there, with its views and rights, where its columns fit."""
    place = (schema, table.name)
    said = f"{MARK}. {table.title}: {table.description}. Layout {_layout(table)}"
    if ours.get(table.name) == said:
        _run(connection, "DELETE FROM {}", place)
        return
    if table.name in ours:
        _run(connection, "DROP TABLE {}", place)
    from psycopg import sql

    parts = [sql.SQL("{} bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY").format(_id(FID))]
    parts += [sql.SQL("{} {}").format(_id(c.name), sql.SQL(TYPES[c.kind])) for c in table.columns]
    if table.geometry:
        kind = geometry_type(table) + ("Z" if has_z(table) else "")
        parts.append(sql.SQL("{} {}").format(_id(GEOMETRY), sql.SQL(_shape(kind, _srid(table)))))
    _run(connection, "CREATE TABLE {} ({})", place, sql.SQL(", ").join(parts))
    if table.geometry:
        _run(connection, "CREATE INDEX ON {} USING gist ({})", place, (GEOMETRY,))
    _run(connection, "COMMENT ON TABLE {} IS {}", place, sql.Literal(said))
    for column in table.columns:
        words = sql.Literal(explain(column))
        _run(connection, "COMMENT ON COLUMN {} IS {}", (*place, column.name), words)


def _id(name: str) -> Any:
    from psycopg import sql

    return sql.Identifier(name)


def _shape(kind: str, srid: int) -> str:
    """The type of a column of shapes; kind and number are of the schema, no text of a user."""
    return f"geometry({kind}, {srid})"


def _layout(table: Table) -> str:
    """A digest of what must be equal for the rows to fit into a table that is there."""
    columns = [f"{c.name} {TYPES[c.kind]}" for c in table.columns]
    said = ", ".join([*columns, f"{table.geometry or 'no shape'} {_srid(table)}"])
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def _copy(connection: Any, schema: str, table: Table, rows: Rows) -> None:
    from psycopg import sql

    names = [c.name for c in table.columns] + ([GEOMETRY] if table.geometry else [])
    listed = sql.SQL(", ").join(map(_id, names))
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(schema, table.name), listed
    )
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)
