"""Forecasts outlive the advice that made them, in the real site file."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from geoprofile import app
from geoprofile.products.advice.track_record import track_record
from geoprofile.site import records_of
from geoprofile.store import Store


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, small_run: Path) -> Path:
    """A made-up site of four holes, run once."""
    return Path(shutil.copytree(small_run, tmp_path_factory.mktemp("kept") / "site"))


def append(file: Path, line: str) -> None:
    """Add a row to a table."""
    file.write_text(file.read_text(encoding="utf-8").rstrip("\n") + f"\n{line}\n", encoding="utf-8")


def test_next_advice_tells_how_the_last_one_did(folder: Path) -> None:
    """The zone proposed for K is tested: the next advice says what was predicted and what came."""
    database = folder / "site.gpkg"
    site = Store.open(database).read()
    assert track_record(site) == ()
    (test,) = records_of(site.table("next_test"))
    place = f"{test['borehole']},{test['top_m']},{test['bottom_m']}"
    append(folder / "intervals.csv", f"new,{place},straddle,P,450,3")
    append(folder / "tests.csv", "new-a,new,rising head,2026-07-05T10:00,38,10")
    rows = [f"{t},{-0.8 * math.exp(-t / 40.0):.5f}" for t in range(0, 200, 20)]
    readings = "\n".join(["elapsed_s,displacement_m", *rows, ""])
    (folder / "readings" / "new-a.csv").write_text(readings, encoding="utf-8")
    app.load(database, [folder])
    done, site = app.derive(database, ["next_test"], command="advise")
    assert "next_test" in done.computed
    (record,) = track_record(site)
    assert (record.quantity, record.proposed, len(record.results)) == ("K", 1, 1)
    result = record.results[0]
    assert (result.low, result.median, result.high) == (
        test["predicted_low"],
        test["predicted_median"],
        test["predicted_high"],
    )
    known = site.conductivity.set_index("interval")
    assert result.value == known.loc["new", "k_m_per_s"]
    assert (
        record.now_m3
        == site.table("remaining_uncertainty").set_index("quantity").loc["K", "uncertain_m3"]
    )
    assert records_of(Store.open(database).read().table("forecast")) == records_of(
        site.table("forecast")
    )
