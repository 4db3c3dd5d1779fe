"""SQL that a site file brings and that would run with our rights as soon as we write.

Triggers, rules and indexes are compared word by word with what this program or GDAL writes for
that very table; all else is refused before a statement runs. Only blanks and the case of words
outside quotes may differ. Trigger texts: OGC 12-128r17, annex F.3 (versions 1.0 to 1.4), as
GDAL 3.6 to 3.12 writes them.
"""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import chain

from geoprofile.schema import TABLES
from geoprofile.store.connection import quoted
from geoprofile.store.core import CORE_TABLES
from geoprofile.store.layout import trigger_sql

Words = tuple[str, ...]
WORD = re.compile(r"\"(?:[^\"]|\"\")*\"|'(?:[^']|'')*'|`(?:[^`]|``)*`|\[[^\]]*\]|\w+|\S")
CORE = tuple(sql.split()[2] for sql in CORE_TABLES)
INDEX_COLUMNS = "rtree(id, minx, maxx, miny, maxy)"
# the standard's guards of its raster table (annex D.2): what is refused, by column
GUARDS = (
    ("zoom_level", "cannot be less than 0", "WHERE (NEW.zoom_level < 0)"),
    ("matrix_width", "cannot be less than 1", "WHERE (NEW.matrix_width < 1)"),
    ("matrix_height", "cannot be less than 1", "WHERE (NEW.matrix_height < 1)"),
    ("pixel_x_size", "must be greater than 0", "WHERE NOT (NEW.pixel_x_size > 0)"),
    ("pixel_y_size", "must be greater than 0", "WHERE NOT (NEW.pixel_y_size > 0)"),
)
# what a rule of a column may be made of, beside the table's own columns and plain values
RULE_WORDS = frozenset(
    [
        "is",
        "not",
        "null",
        "or",
        "and",
        "in",
        "between",
        "typeof",
        "coalesce",
        "(",
        ")",
        ",",
        "<",
        ">",
        "=",
        "!",
        "-",
    ]
)
LITERAL = re.compile(r"'.*'|\d+|\d*\.\d*|e|[+.-]|null|true|false|current_\w+", re.DOTALL)


@lru_cache(maxsize=2048)  # a file has some hundred statements, and a command looks at them thrice
def words(sql: str) -> Words:
    """The words of a statement; those outside quotes in lower case, names without their quotes."""
    found = []
    for word in WORD.findall(sql):
        if word[0] == '"':
            found.append(word[1:-1].replace('""', '"').lower())
        elif word[0] in "`[":
            found.append(word[1:-1].lower())
        else:
            found.append(word if word[0] == "'" else word.lower())
    return tuple(found[:-1] if found and found[-1] == ";" else found)


def is_known_trigger(sql: str, table: str, geometries: Sequence[str], key: str) -> bool:
    """Whether a trigger of that table is one that this program, GDAL or the standard writes.

    `geometries` are the table's columns that an index may be of, `key` its integer primary key.
    """
    own = words(sql)
    known = chain(
        *(_index_triggers(table, g, key) for g in geometries), _counters(table), _guards(table)
    )
    return any(own == words(text) for text in known)


def _index_triggers(table: str, geometry: str, key: str) -> Iterator[str]:
    """Every text of a trigger that keeps a spatial index in step, over the versions."""
    yield from trigger_sql(table, geometry, key).values()
    stem = f"rtree_{table}_{geometry}"
    name, rtree, g, k = quoted(table), quoted(stem), quoted(geometry), quoted(key)
    full = f"(NEW.{g} NOTNULL AND NOT ST_IsEmpty(NEW.{g}))"
    none = f"(NEW.{g} ISNULL OR ST_IsEmpty(NEW.{g}))"
    was, was_not = full.replace("NEW.", "OLD."), none.replace("NEW.", "OLD.")
    box = f"(NEW.{k}, ST_MinX(NEW.{g}), ST_MaxX(NEW.{g}), ST_MinY(NEW.{g}), ST_MaxY(NEW.{g}));"
    put, add = (f"INSERT {how}INTO {rtree} VALUES {box}" for how in ("OR REPLACE ", ""))
    change = (
        f"UPDATE {rtree} SET minx = ST_MinX(NEW.{g}), maxx = ST_MaxX(NEW.{g}), "
        f"miny = ST_MinY(NEW.{g}), maxy = ST_MaxY(NEW.{g}) WHERE id = NEW.{k};"
    )
    drop = f"DELETE FROM {rtree} WHERE id = OLD.{k};"
    both = f"DELETE FROM {rtree} WHERE id IN (OLD.{k}, NEW.{k});"
    same, other = f"OLD.{k} = NEW.{k}", f"OLD.{k} != NEW.{k}"
    of_shape, of_any = f"AFTER UPDATE OF {g} ON {name}", f"AFTER UPDATE ON {name}"
    for filled in ("NOT NULL", "NOTNULL"):
        there = f"(new.{g} {filled} AND NOT ST_IsEmpty(NEW.{g}))"
        yield _trigger(f"{stem}_insert", f"AFTER INSERT ON {name}", there, put)
        yield _trigger(f"{stem}_delete", f"AFTER DELETE ON {name}", f"old.{g} {filled}", drop)
    yield _trigger(f"{stem}_update1", of_shape, f"{same} AND {full}", put)
    yield _trigger(f"{stem}_update2", of_shape, f"{same} AND {none}", drop)
    for event in (of_any, of_shape):  # version 1.0 named the column here too
        yield _trigger(f"{stem}_update3", event, f"{other} AND {full}", f"{drop} {put}")
    yield _trigger(f"{stem}_update4", of_any, f"{other} AND {none}", both)
    yield _trigger(f"{stem}_update5", of_any, f"{other} AND {full}", f"{drop} {put}")
    yield _trigger(f"{stem}_update6", of_shape, f"{same} AND {full} AND {was}", change)
    yield _trigger(f"{stem}_update7", of_shape, f"{same} AND {full} AND {was_not}", add)


def _trigger(name: str, event: str, when: str, action: str) -> str:
    return f"CREATE TRIGGER {quoted(name)} {event} WHEN {when} BEGIN {action} END"


def _counters(table: str) -> Iterator[str]:
    """The triggers that count the rows of a layer."""
    text = table.replace("'", "''")
    for event, sign in (("insert", "+"), ("delete", "-")):
        head = (
            f"CREATE TRIGGER {quoted(f'trigger_{event}_feature_count_{table}')} AFTER {event} "
            f"ON {quoted(table)} BEGIN UPDATE gpkg_ogr_contents "
            f"SET feature_count = feature_count {sign} 1 WHERE "
        )
        yield f"{head} lower(table_name) = lower('{text}'); END"
        yield f"{head} table_name = '{text}'; END"


def _guards(table: str) -> Iterator[str]:
    """The triggers that refuse a row of the raster table, single quotes around names included."""
    if table != "gpkg_tile_matrix":
        return
    for column, rule, where in GUARDS:
        for event, place in (("insert", "INSERT"), ("update", f"UPDATE OF {column}")):
            yield (
                f"CREATE TRIGGER '{table}_{column}_{event}' BEFORE {place} ON '{table}' "
                f"FOR EACH ROW BEGIN SELECT RAISE(ABORT, '{event} on table ''{table}'' violates "
                f"constraint: {column} {rule}') {where}; END"
            )


def foreign_sql(connection: sqlite3.Connection) -> list[str]:
    """What the file brings that neither this program nor GDAL writes, by kind and name.

    Triggers of any table; and, in tables that we write, views in their place, generated columns,
    rules, defaults and indexes that compute.
    """
    rows = connection.execute(
        "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master"
    ).fetchall()
    ours = {*TABLES, *CORE}
    found = []
    for kind, name, table, sql in rows:
        if kind == "trigger" and not _is_known_here(connection, str(table), sql):
            found.append(f"trigger {name}")
        elif kind == "view" and name.lower() in ours:
            found.append(f"view {name}")
        elif kind == "table" and name in ours:
            found += _foreign_parts(connection, name, sql)
        elif (
            kind == "index"
            and table in ours
            and sql
            and not _is_plain_index(connection, table, sql)
        ):
            found.append(f"index {name}")
        elif kind == "table" and name in INDEXES and not _is_index_table(name, sql):
            found.append(f"table {name}")
    return found


INDEXES = {f"rtree_{t.name}_geom" for t in TABLES.values() if t.geometry}


def _is_known_here(connection: sqlite3.Connection, table: str, sql: str) -> bool:
    info = connection.execute(f"PRAGMA table_info({quoted(table)})").fetchall()
    keys = [str(row[1]) for row in info if row[5] == 1 and str(row[2]).upper() == "INTEGER"]
    shapes = [str(row[1]) for row in info if f"rtree_{table}_{row[1]}".lower() in sql.lower()]
    return is_known_trigger(sql, table, shapes, keys[0] if keys else "fid")


def _is_index_table(name: str, sql: str) -> bool:
    return words(sql) == words(f"CREATE VIRTUAL TABLE {quoted(name)} USING {INDEX_COLUMNS}")


def _foreign_parts(connection: sqlite3.Connection, table: str, sql: str) -> Iterator[str]:
    """Generated columns, and rules and defaults that are more than comparisons and values."""
    info = connection.execute(f"PRAGMA table_xinfo({quoted(table)})").fetchall()
    for row in info:
        if row[6] in (2, 3):
            yield f"generated column {table}.{row[1]}"
    if table in CORE and words(sql) in (words(text) for text in CORE_TABLES):
        return
    names = {str(row[1]).lower() for row in info}
    own = words(sql)
    for start in (
        i for i, word in enumerate(own) if word == "check" and own[i + 1 : i + 2] == ("(",)
    ):
        if not _is_rule(_inside(own, start + 1), names):
            yield f"rule of table {table}"
    for row in info:
        if row[4] is not None and not _is_value(str(row[4]), table):
            yield f"default of column {table}.{row[1]}"


def _is_rule(rule: Words, names: set[str]) -> bool:
    """Whether a rule only compares columns with values: it cannot run for long, or reach out."""
    return all(w in names or w in RULE_WORDS or LITERAL.fullmatch(w) for w in rule)


def _is_value(default: str, table: str) -> bool:
    if table in CORE and words(default) == words("strftime('%Y-%m-%dT%H:%M:%fZ','now')"):
        return True
    return all(LITERAL.fullmatch(word) for word in words(default))


def _inside(own: Words, start: int) -> Words:
    """The words within the bracket that opens at a place."""
    depth = 0
    for place in range(start, len(own)):
        depth += {"(": 1, ")": -1}.get(own[place], 0)
        if depth == 0:
            return own[start + 1 : place]
    return own[start + 1 :]


def _is_plain_index(connection: sqlite3.Connection, table: str, sql: str) -> bool:
    """Whether an index is of columns alone, or of the columns that make one of our keys."""
    info = connection.execute(f"PRAGMA table_xinfo({quoted(table)})").fetchall()
    names = {str(row[1]).lower() for row in info}
    own = words(sql)
    if "(" not in own:
        return False
    start = own.index("(")
    part = _inside(own, start)
    rest = own[start + len(part) + 2 :]
    return not rest and all(
        w in names or w in ("coalesce", "(", ")", ",", "''", "asc", "desc") for w in part
    )
