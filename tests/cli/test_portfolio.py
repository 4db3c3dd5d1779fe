"""Many sites at once: each by itself, gathered into one GeoPackage, dataset and page.

The dataset is read by DuckDB and dask-geopandas, the GeoPackage by pyogrio: nothing of ours.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pandas as pd
import pyogrio
import pytest
from click.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parent))
import corner_site

from geoprofile.cli import cli
from geoprofile.portfolio import Facts, failed, find_sites, page, ranked, state_of
from geoprofile.portfolio.facts import facts_of
from geoprofile.schema.finding import SEVERITIES
from geoprofile.site import Site
from geoprofile.store import Store


def portfolio(folder: Path, *words: str):
    """The command, in this process; the sites still run in their own."""
    return CliRunner().invoke(cli, ["portfolio", str(folder), *words])


def holes_alone() -> dict[str, str]:
    """A site of boreholes: soon run."""
    return {"site.toml": corner_site.settings(), "boreholes.csv": corner_site.boreholes()}


@pytest.fixture(scope="module")
def gathered(tmp_path_factory: pytest.TempPathFactory, demo_run: Path):
    """A good site, a folder with a wrong table, a file that is no site; then a finished site."""
    top = tmp_path_factory.mktemp("sites")
    corner_site.write(top / "north" / "holes", holes_alone())
    bad = holes_alone() | {"boreholes.csv": "borehole,x,y\nB1,east,north\n"}
    corner_site.write(top / "bad", bad)
    (top / "scrap.gpkg").write_text("no database", encoding="utf-8")
    first = portfolio(top)
    shutil.copytree(demo_run, top / "done")
    return top, first, portfolio(top)


def rows_of(top: Path) -> dict[str, dict[str, object]]:
    """The rows of the sites, by name, as another library reads them."""
    frame = pyogrio.read_dataframe(top / "portfolio" / "portfolio.gpkg", layer="portfolio_site")
    return {row["site"]: row for row in frame.to_dict("records")}


def test_a_bad_site_stops_no_other(gathered) -> None:
    """The good one is finished, and each bad one stands with its reason."""
    top, first, _ = gathered
    assert first.exit_code == 1
    rows = rows_of(top)
    good = next(name for name in rows if name.startswith("north_holes"))
    assert {n: r["state"] for n, r in rows.items()} == {
        good: "finished",
        "done": "finished",
        "bad": "failed",
        "scrap": "failed",
    }
    assert "boreholes.csv" in rows["bad"]["reason"]
    assert "scrap.gpkg" in rows["scrap"]["reason"]


def test_the_point_lies_where_the_boreholes_are(gathered) -> None:
    """UTM zone 32 runs along 9 degrees east, and 5,300 km are 47.85 degrees (EPSG 9807)."""
    top, _, _ = gathered
    rows = rows_of(top)
    point = next(r["geometry"] for n, r in rows.items() if n.startswith("north_holes"))
    assert point.x == pytest.approx(9.0, abs=2e-3)
    assert point.y == pytest.approx(47.853, abs=5e-3)


def test_a_finished_site_is_gathered_not_run(gathered) -> None:
    """It came with its results: what they are stands in its row, and its tests in the list."""
    top, first, second = gathered
    assert "done" in second.output
    assert "done" not in first.output
    row = rows_of(top)["done"]
    assert row["volume_m3"] > 1e5
    assert row["discharge_g_per_day"] > 0.1
    assert row["worst_severity"] == "warning"
    assert row["last_round"].startswith("R2")
    assert row["next_test"] in second.output


def test_duckdb_reads_the_dataset_in_one_line(gathered) -> None:
    """Every site of a table, told apart by its partition."""
    duckdb = pytest.importorskip("duckdb")
    top, _, _ = gathered
    where = top / "portfolio" / "dataset" / "borehole_path" / "*" / "*.parquet"
    found = duckdb.sql(
        f"SELECT site, count(*) FROM read_parquet('{where}', hive_partitioning = true) "
        "GROUP BY site ORDER BY site"
    ).fetchall()
    assert [count for _, count in found] == [14, 5]


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # of dask itself
def test_dask_geopandas_opens_the_dataset(gathered) -> None:
    """Shapes in degrees, whatever zone a site is in."""
    dask_geopandas = pytest.importorskip("dask_geopandas")
    top, _, _ = gathered
    frame = dask_geopandas.read_parquet(str(top / "portfolio" / "dataset" / "borehole_path"))
    assert frame.crs == "EPSG:4326"
    found = frame.compute()
    assert len(found) == 19
    assert found.geometry.bounds["miny"].between(40.0, 50.0).all()


def test_the_page_links_and_cautions(gathered) -> None:
    """Failed sites first; the caution stands on the page and on the screen."""
    top, _, second = gathered
    text = (top / "portfolio" / "portfolio.html").read_text(encoding="utf-8")
    assert text.index("scrap") < text.index(">done<")
    assert "licensed professional" in text
    for link in ("../done/site.gpkg",):
        assert link in text
        assert (top / "portfolio" / link).exists()
    assert second.exit_code == 1


def test_a_site_that_went_leaves_the_portfolio(gathered, tmp_path: Path) -> None:
    """Its row and its partitions go; nothing else is run."""
    top, _, _ = gathered
    copy = shutil.copytree(top, tmp_path / "copy")
    for name in ("bad", "done"):
        shutil.rmtree(copy / name)
    (copy / "scrap.gpkg").unlink()
    answer = portfolio(copy)
    assert answer.exit_code == 0, answer.output
    assert len(rows_of(copy)) == 1
    assert not list((copy / "portfolio" / "dataset").glob("*/site=done/*.parquet"))
    again = portfolio(copy)
    assert "Nothing has changed" in again.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--workers", "0"), "1 or more"),
        (("--workers", "2", "--scheduler", "tcp://127.0.0.1:9"), "Leave out the other"),
    ],
)
def test_wrong_calls_say_what_to_do(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """No site is touched."""
    corner_site.write(tmp_path / "one", holes_alone())
    answer = portfolio(tmp_path, *words)
    assert answer.exit_code
    assert said in str(answer.exception)
    assert not (tmp_path / "one" / "site.gpkg").exists()


def test_a_folder_without_sites_is_refused(tmp_path: Path) -> None:
    """With what would be a site."""
    answer = portfolio(tmp_path)
    assert "site.toml" in str(answer.exception)


def test_names_are_told_apart_and_safe(tmp_path: Path) -> None:
    """`a/b` and `a_b` are two sites; a name has nothing that a path would trip over."""
    for name in ("a/b", "a_b", "ä ö='1'"):
        corner_site.write(tmp_path / name, {"site.toml": ""})
    names = [place.name for place in find_sites(tmp_path)]
    assert len(set(names)) == 3
    assert not any(c in "".join(names) for c in "/ ='")


def test_copies_of_a_site_are_no_sites(tmp_path: Path) -> None:
    """A field copy and the GeoPackage of a hand-over stand for a site that is there itself."""
    corner_site.write(tmp_path / "one", {"site.toml": ""})
    corner_site.write(tmp_path / "for_the_client", {"ro-crate-metadata.json": "{}"})
    (tmp_path / "for_the_client" / "one.gpkg").touch()
    (tmp_path / "field").mkdir()
    copy = {"crs": "EPSG:32632", "vertical_datum": "", "settings": {"field_copy": "1-0a1b2c3d"}}
    Store.create(tmp_path / "field" / "field_1-0a1b2c3d.gpkg", name="one", **copy)
    assert [place.name for place in find_sites(tmp_path)] == ["one"]


def test_a_touched_file_makes_a_site_stale(tmp_path: Path) -> None:
    """But a figure does not."""
    corner_site.write(tmp_path / "one", {"site.toml": "", "boreholes.csv": "x"})
    (place,) = find_sites(tmp_path)
    before = state_of(place)
    corner_site.write(place.path / "out", {"map.svg": "drawn"})
    assert state_of(place) == before
    corner_site.write(place.path, {"boreholes.csv": "xy"})
    assert state_of(place) != before


def test_the_gravest_finding_of_a_site_is_told() -> None:
    """Whatever words the schema has for it, and in whatever order they come."""
    rows = [{"what": word, "severity": word} for word in reversed(SEVERITIES)]
    yard = Site("yard", "EPSG:32632", "zero", tables={"finding": pd.DataFrame(rows)})
    found = facts_of("yard", yard, "")
    assert (found.worst_finding, found.worst_severity) == (SEVERITIES[0], SEVERITIES[0])


def test_urgency_and_ranks() -> None:
    """Unknown before grave before large; volumes of plumes and of K are not compared."""
    test = {"borehole": "B", "top_m": 1.0, "bottom_m": 2.0, "gain_unit": "m3", "reason": ""}
    test["cost"] = 1.0
    sites = [
        Facts("calm", "finished", tests=({**test, "gain": 2.0, "quantity": "TCE"},)),
        Facts("large", "finished", volume_m3=10.0, worst_severity="note"),
        Facts("grave", "finished", worst_severity="serious"),
        failed("lost", "no file\n there"),
        Facts("more", "finished", tests=({**test, "gain": 3.0, "quantity": "TCE"},)),
        Facts("other", "finished", tests=({**test, "gain": 9.0, "quantity": "K"},)),
    ]
    rows, tests = ranked(sites)
    assert [r["site"] for r in rows] == ["lost", "grave", "large", "calm", "more", "other"]
    assert [(t["site"], t["rank"]) for t in tests] == [("more", 1), ("calm", 2), ("other", 1)]
    assert rows[0]["reason"] == "no file there"


def test_a_budget_is_spent_where_a_cost_settles_most() -> None:
    """Plumes first and by gain for cost; what does not fit is passed over, and K gets the rest."""
    place = {"borehole": "B", "top_m": 1.0, "bottom_m": 2.0, "gain_unit": "m3", "reason": ""}
    offered = [  # site, quantity, gain, cost
        ("a", "TCE", 90.0, 30.0), ("b", "TCE", 80.0, 10.0), ("c", "TCE", 50.0, 20.0),
        ("d", "K", 9.0, 10.0), ("d", "K", 5.0, 20.0),
    ]  # fmt: skip
    sites = [
        Facts(site, "finished", tests=({**place, "quantity": what, "gain": gain, "cost": cost},))
        for site, what, gain, cost in offered
    ]
    _, tests = ranked(sites, budget=45.0)
    told = [(t["site"], t["rank"], t["in_budget"], t["total_cost"]) for t in tests]
    assert told == [
        ("b", 1, True, 10.0), ("a", 2, True, 40.0), ("c", 3, False, None),
        ("d", 1, False, None), ("d", 2, False, None),
    ]  # fmt: skip
    assert "pays for 2 test(s) at 2 site(s) (cost 40)" in page([], tests, 45.0)
    _, tests = ranked(sites)
    assert [t["in_budget"] for t in tests] == [None] * 5
    assert [t["total_cost"] for t in tests] == [10.0, 40.0, 60.0, 70.0, 90.0]


def test_another_budget_is_another_list(gathered) -> None:
    """Nothing is run again, and the GeoPackage follows."""
    top, _, _ = gathered
    answer = portfolio(top, "--budget", "1")
    assert "A budget of 1 pays for 1 test(s) at 1 site(s)" in answer.output
    rows = pyogrio.read_dataframe(top / "portfolio" / "portfolio.gpkg", layer="portfolio_test")
    assert rows["in_budget"].sum() == 1
    answer = portfolio(top)
    assert "budget" not in answer.output
