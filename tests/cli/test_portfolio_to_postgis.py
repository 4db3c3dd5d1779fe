"""A portfolio in a PostGIS database, read back by SQL alone: nothing of ours looks at it.

The server is the distribution's (Debian: apt-get install postgresql postgresql-postgis).
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.store import Store

psycopg = pytest.importorskip("psycopg")
FOUND = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
OWNER = "postgres"  # the server refuses to be run by root
Ask = Callable[[str], list[tuple[Any, ...]]]


def as_owner(*words: object) -> None:
    """Run a program of the server as somebody who may."""
    before = ["runuser", "-u", OWNER, "--"] if os.getuid() == 0 else []
    subprocess.run([*before, *map(str, words)], check=True, capture_output=True, cwd="/")


def give_up(reason: str) -> None:
    """Skip, unless the server should be here."""
    if os.environ.get("GEOPROFILE_POSTGIS") == "required":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    """The address of a server of its own, without any network; it ends with the module."""
    if not FOUND:
        give_up("no PostgreSQL on this machine")
    tools, place = FOUND[-1].parent, Path(tempfile.mkdtemp())
    try:
        if os.getuid() == 0:
            owner = pwd.getpwnam(OWNER)
            os.chown(place, owner.pw_uid, owner.pw_gid)
        data = place / "data"
        as_owner(tools / "initdb", "-D", data, "-A", "trust", "-U", "keeper", "--no-sync")
        options = f"-c unix_socket_directories={place} -c listen_addresses= -c fsync=off"
        as_owner(tools / "pg_ctl", "-D", data, "-w", "-l", place / "log", "-o", options, "start")
        try:
            yield f"postgresql://keeper:a-secret@/postgres?host={place}"
        finally:
            as_owner(tools / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(place, ignore_errors=True)


@pytest.fixture(scope="module")
def ask(server: str) -> Ask:
    """Rows of a query."""

    def rows(query: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(server, autocommit=True) as connection:
            done = connection.execute(query)
            return done.fetchall() if done.description else []

    return rows


@pytest.fixture(scope="module")
def top(tmp_path_factory: pytest.TempPathFactory, small_run: Path) -> Path:
    """Two finished sites."""
    folder = tmp_path_factory.mktemp("sites")
    for name in ("north", "south"):
        shutil.copytree(small_run, folder / name)
    return folder


def portfolio(top: Path, *words: str) -> Any:
    """The command, in this process."""
    return CliRunner().invoke(cli, ["portfolio", str(top), *words], standalone_mode=False)


@pytest.fixture(scope="module")
def pushed(top: Path, server: str, ask: Ask) -> Path:
    """The portfolio after its first push."""
    answer = portfolio(top, "--to", server)
    assert "a database without PostGIS" in str(answer.exception)
    try:
        ask("CREATE EXTENSION postgis")
    except psycopg.Error as error:
        give_up(f"no PostGIS on this machine ({error})")
    answer = portfolio(top, "--to", server)
    assert answer.exit_code == 0, (answer.output, answer.exception)
    assert "tables in schema geoprofile" in answer.output
    return top


def test_the_database_holds_the_rows_of_every_site(pushed: Path, ask: Ask) -> None:
    """Row by row those of the site files, site by site, and every table of them."""
    dataset = pushed / "portfolio" / "dataset"
    tables = [p.name for p in sorted(dataset.iterdir())]
    assert len(tables) > 20
    site = Store.open(pushed / "north" / "site.gpkg").read()
    for name in tables:
        assert ask(f"SELECT site, count(*) FROM geoprofile.{name} GROUP BY site ORDER BY 1") == [
            ("north", len(site.tables[name])),
            ("south", len(site.tables[name])),
        ], name
    stored = ask("SELECT test, method, k_m_per_s FROM geoprofile.conductivity WHERE site = 'south'")
    own = site.tables["conductivity"]
    keys = zip(own["test"], own["method"], strict=True)
    assert dict(zip(keys, own["k_m_per_s"], strict=True)) == {
        (test, method): pytest.approx(k, rel=1e-15, nan_ok=True) for test, method, k in stored
    }
    assert ask("SELECT site, state FROM geoprofile.portfolio_site ORDER BY site") == [
        ("north", "finished"), ("south", "finished"),
    ]  # fmt: skip


def test_shapes_lie_where_the_file_has_them(pushed: Path, ask: Ask) -> None:
    """Brought back to the zone of the site by PostGIS itself: collars within a millimetre."""
    found = ask(
        "SELECT borehole, ST_X(p), ST_Y(p), ST_Z(p), ST_NDims(geom) FROM ("
        "SELECT borehole, geom, ST_StartPoint(ST_Transform(geom, 32632)) AS p "
        "FROM geoprofile.borehole_path WHERE site = 'north') AS paths"
    )
    holes = Store.open(pushed / "north" / "site.gpkg").read().boreholes.set_index("borehole")
    assert len(found) == len(holes)
    for name, x, y, z, dimensions in found:
        row = holes.loc[name]
        assert (x, y) == (pytest.approx(row.x, abs=1e-3), pytest.approx(row.y, abs=1e-3))
        assert z == pytest.approx(row.ground_elevation_m, abs=1e-6)
        assert dimensions == 3
    kinds = "SELECT srid FROM geometry_columns WHERE f_table_schema = 'geoprofile' AND f_table_name"
    assert ask(f"{kinds} = 'plume_extent'") == [(4326,)]
    assert ask(f"{kinds} = 'section_band'") == [(0,)]  # a sheet, no map


def test_every_column_says_what_it_means(pushed: Path, ask: Ask) -> None:
    """Unit and meaning stand in the database, where its users look."""
    ((said,),) = ask(
        "SELECT col_description('geoprofile.conductivity'::regclass, ordinal_position) "
        "FROM information_schema.columns WHERE table_schema = 'geoprofile' "
        "AND table_name = 'conductivity' AND column_name = 'k_m_per_s'"
    )
    assert "unit m/s" in said


def test_the_next_push_replaces_and_keeps_views(
    pushed: Path, server: str, ask: Ask, tmp_path: Path
) -> None:
    """A site that went is gone, a view of the user's on our table stays, others are not touched."""
    ask("CREATE VIEW geoprofile.mine AS SELECT site, test FROM geoprofile.conductivity")
    ask("CREATE TABLE geoprofile.notes AS SELECT 'gate locked' AS note")
    copy = shutil.copytree(pushed, tmp_path / "sites")
    shutil.rmtree(copy / "south")
    answer = portfolio(copy, "--to", server)
    assert answer.exit_code == 0, (answer.output, answer.exception)
    assert ask("SELECT DISTINCT site FROM geoprofile.mine") == [("north",)]
    assert ask("SELECT note FROM geoprofile.notes") == [("gate locked",)]
    assert portfolio(pushed, "--to", server).exit_code == 0
    assert ask("SELECT count(DISTINCT site) FROM geoprofile.mine") == [(2,)]


def test_two_pushes_at_once_leave_the_rows_of_one(pushed: Path, server: str, ask: Ask) -> None:
    """Both are held up in the midst of it by a third program, then go on one after the other."""
    before = ask("SELECT count(*) FROM geoprofile.portfolio_site")
    command = [sys.executable, "-m", "geoprofile", "portfolio", str(pushed), "--to", server]
    waiting = "SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'"
    with psycopg.connect(server) as third:
        third.execute("LOCK TABLE geoprofile.conductivity")
        both = [subprocess.Popen(command, stdout=subprocess.DEVNULL) for _ in range(2)]
        until = time.monotonic() + 60.0
        while ask(waiting) != [(2,)] and time.monotonic() < until:
            time.sleep(0.1)
        assert ask(waiting) == [(2,)]
    assert [one.wait(60) for one in both] == [0, 0]
    assert ask("SELECT count(*) FROM geoprofile.portfolio_site") == before


def test_a_table_of_somebody_else_is_left_alone(pushed: Path, server: str, ask: Ask) -> None:
    """Refused as a whole, in words that hold no password."""
    ask("CREATE SCHEMA theirs")
    ask("CREATE TABLE theirs.conductivity (note text)")
    answer = portfolio(pushed, "--to", server, "--schema", "theirs")
    assert "theirs.conductivity: found a table that this program did not write" in str(
        answer.exception
    )
    names = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'theirs'"
    assert ask(names) == [("conductivity",)]


def test_a_push_that_is_stopped_changes_nothing(
    pushed: Path, server: str, ask: Ask, tmp_path: Path
) -> None:
    """A rule of the database's owner refuses one row: every table is as before."""
    before = ask("SELECT max(fid) FROM geoprofile.conductivity")
    ask("ALTER TABLE geoprofile.section_band ADD CONSTRAINT few CHECK (site <> 'south') NOT VALID")
    answer = portfolio(pushed, "--to", server)
    assert "The database is as before" in str(answer.exception)
    assert "a-secret" not in str(answer.exception) + answer.output
    assert ask("SELECT max(fid) FROM geoprofile.conductivity") == before
    ask("ALTER TABLE geoprofile.section_band DROP CONSTRAINT few")


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("mysql://host/base", "an address that begins with 'mysql:'"),
        ("postgresql://who:a-secret@/none?host=/nowhere", "no way into postgresql:///none"),
        ("postgresql://who:a-secret@[", "an address that cannot be understood, postgresql://["),
    ],
)
def test_another_address_is_told(pushed: Path, address: str, told: str) -> None:
    """One sentence before any site is run, never the password."""
    answer = portfolio(pushed, "--to", address)
    assert answer.output == ""
    assert told in str(answer.exception)
    assert "a-secret" not in str(answer.exception) + answer.output
