"""From advice to results without retyping: what a plan leaves is loaded as it is, and counts."""

from __future__ import annotations

import csv
import math
import shutil
from pathlib import Path

import pytest
from beside import module_of
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.products.advice.track_record import track_record
from geoprofile.site import records_of
from geoprofile.store import Store


def call(*words: object) -> str:
    """A command that must succeed; what it said."""
    answer = CliRunner().invoke(cli, [str(w) for w in words], standalone_mode=False)
    assert answer.exception is None, answer.output
    assert answer.exit_code == 0, answer.output
    return answer.output


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, small_run: Path) -> Path:
    """A made-up site of four holes with its advice."""
    folder = Path(shutil.copytree(small_run, tmp_path_factory.mktemp("loop") / "site"))
    database = folder / "site.gpkg"
    said = call("advise", database)
    line = next(line for line in said.splitlines() if " D1: new borehole" in line)
    assert "at 5000" in line
    assert "for K: K is known to a factor" in line
    assert "longitude 9.000" in said
    return database


def rows_of(file: Path) -> list[dict[str, str]]:
    """A table as written."""
    with file.open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def fill(file: Path, **values: str) -> None:
    """Fill measured cells in every row, as the crew does; keys stay."""
    rows = rows_of(file)
    with file.open("w", encoding="utf-8", newline="") as target:
        writer = csv.DictWriter(target, list(rows[0]))
        writer.writeheader()
        writer.writerows({**row, **values} for row in rows)


def test_a_new_borehole_goes_from_advice_to_advice(site: Path, tmp_path: Path) -> None:
    """Plan, load untouched, measure, load again: tests count and the forecast is judged."""
    said = call("plan", site, "C9", "--advised-borehole", "1", "--folder", tmp_path)
    assert "advised 4.00 to 6.00 m, planned 5.30 to 7.30 m: the packer element" in said
    tables = tmp_path / "plan_C9"
    before = Store.open(site).read()
    wanted = records_of(before.table("next_borehole_zone"))
    [hole] = rows_of(tables / "boreholes.csv")
    assert float(hole["x"]) == pytest.approx(wanted[0]["x_m"], abs=0.01)
    zones = rows_of(tables / "intervals.csv")
    assert [float(z["top_m"]) for z in zones[1:]] == [z["top_m"] for z in wanted[1:]]

    said = call("load", site, tables)  # nothing measured yet: nothing is refused
    assert "samples.csv: found 7 planned row(s) without what is measured" in said
    tests = rows_of(tables / "tests.csv")
    for test in tests[3:6]:  # one zone, at its advised depth
        head = float(test["expected_displacement_m"])
        rows = [f"{t},{head * math.exp(-t / 40.0):.5f}" for t in range(0, 200, 10)]
        log = "\n".join(["elapsed_s,displacement_m", *rows, ""])
        (tables / "readings" / f"{test['test']}.csv").write_text(log, encoding="utf-8")
    fill(tables / "tests.csv", started_at="2026-08-01T10:00")
    fill(tables / "samples.csv", sampled_at="2026-08-01T12:00")
    fill(tables / "results.csv", value="12", limit="1")
    fill(tables / "intervals.csv", static_depth_m="3.5")
    call("load", site, tables)
    said = call("advise", site)
    after = Store.open(site).read()
    mine = after.conductivity[after.conductivity["borehole"] == "C9"]
    assert list(mine["interval"]) == ["C9-p02"]
    assert (after.concentration["borehole"] == "C9").sum() == len(zones)
    found = after.table("finding")
    assert not found["row_key"].astype(str).str.contains("C9-p03-").any()
    [record] = [r for r in track_record(after) if r.of_boreholes]
    assert (record.quantity, record.proposed) == ("K", 7)
    [result] = record.results
    [promise] = [z for z in wanted if z["top_m"] == result.top_m]
    assert (result.low, result.high) == (promise["predicted_low"], promise["predicted_high"])
    assert result.value == mine["k_m_per_s"].iloc[0]
    assert "zones of new boreholes proposed earlier 1 done" in said
    # the site's own folder knows nothing of that hole: its rows are neither missed nor pruned
    for options in ((), ("--prune",)):
        said = call("load", site, site.parent, *options)
        assert "vanished" not in said
        assert "C9" not in said
        again = Store.open(site).read()
        assert "C9" in set(again.boreholes["borehole"])
        for name in ("interval", "test", "sample", "result", "reading"):
            assert len(again.table(name)) == len(after.table(name)), name


@pytest.mark.calibration
def test_a_planned_hole_outlives_later_runs_of_the_folder(tmp_path: Path) -> None:
    """`run` of the site's own folder, then with --prune: nothing vanishes, nothing is pruned."""
    folder = module_of("faults/small_site.py").write_small_site(tmp_path / "site")
    database = folder / "site.gpkg"
    call("create", database, "--crs", "EPSG:32632")
    call("load", database, folder)
    call("advise", database)
    call("plan", database, "C9", "--advised-borehole", "1", "--folder", tmp_path)
    tables = tmp_path / "plan_C9"
    fill(tables / "samples.csv", sampled_at="2026-08-01T12:00")
    fill(tables / "results.csv", value="12", limit="1")
    fill(tables / "intervals.csv", static_depth_m="3.5")
    call("load", database, tables)
    loaded = Store.open(database).read()
    names = ("borehole", "interval", "test", "sample", "result", "reading", "construction")
    assert "C9" in set(loaded.boreholes["borehole"])
    for options in ((), ("--prune",), ("--again", "--prune")):
        said = call("run", folder, *options)
        assert "vanished" not in said
        again = Store.open(database).read()
        for name in names:
            assert len(again.table(name)) == len(loaded.table(name)), (options, name)
        findings = again.table("finding")
        assert not findings["what"].astype(str).str.contains("vanish").any()
        assert (again.concentration["borehole"] == "C9").any()


def test_an_advised_zone_is_planned_where_it_was_advised(site: Path, tmp_path: Path) -> None:
    """The zone of rank 1 in its hole; wrong ranks and names are told in words."""
    [test] = records_of(Store.open(site).read().table("next_test").head(1))
    call("plan", site, "--advised", "1", "--folder", tmp_path)
    [zone] = rows_of(tmp_path / f"plan_{test['borehole']}" / "intervals.csv")
    assert (float(zone["top_m"]), float(zone["bottom_m"])) == (test["top_m"], test["bottom_m"])
    for words, told in (
        (("--advised", "99"), "found rank 99, expected a rank from 1 to"),
        ((), "--advised RANK"),
        (("A1", "--advised-borehole", "1"), "borehole 'A1', which exists"),
    ):
        answer = CliRunner().invoke(cli, ["plan", str(site), *words, "--folder", str(tmp_path)])
        assert told in str(answer.exception or "") + answer.output
