"""A portfolio that is killed: its files are whole or not there, and no process goes on alone."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

import pytest
from faults_states import digests

from geoprofile import app
from geoprofile.app.one_site import run_alone
from geoprofile.store import inspect

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are seen in /proc")
SITES = ("north", "south", "west")


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    """Three sites of boreholes alone, which are soon run."""
    top = tmp_path_factory.mktemp("sites")
    for number, name in enumerate(SITES):
        folder = top / name
        folder.mkdir()
        (folder / "site.toml").write_text(f'crs = "EPSG:32632"\nname = "made-up {name}"\n')
        rows = [f"B{i},{500_000 + 100 * number + 7 * i},{5_300_000 + i},100,20" for i in range(3)]
        text = "\n".join(["borehole,x,y,ground_elevation_m,depth_m", *rows]) + "\n"
        (folder / "boreholes.csv").write_text(text)
    return top


def running_in(folder):
    """Processes whose words name a place below the folder."""
    found = []
    for listed in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            if str(folder).encode() in listed.read_bytes():
                found.append(int(listed.parent.name))
        except (FileNotFoundError, ProcessLookupError):
            continue
    return found


def wait_until(is_so, seconds=60.0):
    """Whether it comes to be so within the time."""
    until = time.monotonic() + seconds
    while not is_so() and time.monotonic() < until:
        time.sleep(0.05)
    return is_so()


def state_of(top):
    """What is gathered, without the times."""
    known = json.loads((top / "portfolio" / "known.json").read_text())
    return known["is_written"], {n: s["facts"]["state"] for n, s in known["sites"].items()}


def assert_whole(top):
    """No file under its own name is half written."""
    out = top / "portfolio"
    if (out / "known.json").exists():
        state_of(top)
    if (out / "portfolio.html").exists():
        assert (out / "portfolio.html").read_text().rstrip().endswith("</html>")
    assert not (out / "portfolio.gpkg").exists() or digests(out / "portfolio.gpkg")
    for part in out.glob("dataset/*/*/*.parquet"):
        assert part.read_bytes()[:4] == part.read_bytes()[-4:] == b"PAR1"
    for name in SITES:
        path = top / name / "site.gpkg"
        assert not path.exists() or [f for f in inspect(path) if f.severity == "error"] == []


@pytest.mark.calibration
def test_a_killed_portfolio_is_whole_and_goes_on(sites, tmp_path, warm, kills):
    """Whatever the moment: nothing is torn, nothing goes on, and the next run does the rest."""
    top, chance = tmp_path / "sites", random.Random(8)
    words = ("portfolio", str(top), "--workers", "2")
    shutil.copytree(sites, top)
    begun = time.monotonic()
    assert warm.run(words, top) == 0, warm.said.read_text()
    lasts_s, whole = time.monotonic() - begun, state_of(top)
    codes = []
    for _ in range(kills):
        shutil.rmtree(top)
        shutil.copytree(sites, top)
        warm.start(words, top)
        if not warm.has_ended(chance.uniform(0, lasts_s)):
            warm.send(signal.SIGKILL)
        codes.append(warm.code())
        assert wait_until(lambda: not running_in(top))
        assert_whole(top)
    print(f"portfolio: {codes.count(-signal.SIGKILL)} of {kills} were killed before the end")
    assert warm.run(words, top) == 0, warm.said.read_text()
    assert state_of(top) == whole
    assert_whole(top)
    assert not list(top.rglob(".being-written-*"))


def test_the_run_of_a_site_ends_with_the_process_that_asked_for_it(sites, tmp_path):
    """The process is killed with -9 as soon as the site's own process is there."""
    top = tmp_path / "one"
    shutil.copytree(sites / SITES[0], top)
    pid = os.fork()
    if pid == 0:
        run_alone("one", str(top))
        os._exit(0)
    try:
        assert wait_until(lambda: running_in(top))
        children = running_in(top)
    finally:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    assert wait_until(lambda: not running_in(top), 30.0), children


def test_nothing_is_imported_from_the_folder_the_user_is_in(sites, tmp_path, monkeypatch):
    """A file with the name of a library lies beside the sites and stays unread."""
    top = tmp_path / "sites"
    shutil.copytree(sites / SITES[0], top / SITES[0])
    for name in ("click", "threading", "geoprofile"):
        (top / f"{name}.py").write_text(f"open({str(top / 'ran')!r}, 'w').close()\n")
    monkeypatch.chdir(top)
    assert not app.portfolio(Path()).failed
    assert not (top / "ran").exists()
