"""Cases through the real commands, and how K compares with the truth."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
from click.testing import CliRunner
from real_tests import Case, write

from geoprofile.cli import cli
from geoprofile.store import Store


def through_the_program(cases: list[Case], folder: Path) -> pd.DataFrame:
    """K of every case from CSV files through `create`, `load` and `conductivity`."""
    tables, site = write(cases, folder / "tables"), folder / "site.gpkg"
    files = [str(p) for p in sorted(tables.glob("*.csv"))]
    for words in (
        ["create", str(site), "--crs", "EPSG:32632"],
        ["load", str(site), *files],
        ["conductivity", str(site), "--quiet"],
    ):
        done = CliRunner().invoke(cli, words)
        if done.exit_code != 0:
            raise AssertionError(f"{words[0]}: {done.output} {done.exception}")
    rows = Store.open(site).read().table("conductivity")
    best = rows[rows["preferred"].astype(bool)].set_index("test")
    out = []
    for c in cases:
        line = {"test": c.name, "family": c.family, "k_true": c.k, **c.about}
        if c.name in best.index:
            row = best.loc[c.name]
            line |= {
                "method": row["method"],
                "k": row["k_m_per_s"],
                "low": row["k_low_m_per_s"],
                "high": row["k_high_m_per_s"],
                "grade": row["grade"],
                "notes": row["notes"],
            }
            if "k_as_fitted_m_per_s" in row:
                line["fitted"] = row["k_as_fitted_m_per_s"]
        out.append(line)
    frame = pd.DataFrame(out)
    for name in ("k", "low", "high", "grade", "notes", "method"):
        if name not in frame:
            frame[name] = np.nan
    return frame


def scores(frame: pd.DataFrame) -> dict[str, float]:
    """Median of K over true K, rms of its ln, share inside, half-width factor, flags, losses."""
    has = frame[frame["k"].notna()]
    ratio = (has["k"] / has["k_true"]).astype(float)
    inside = (has["low"] <= has["k_true"]) & (has["k_true"] <= has["high"])
    off = np.abs(np.log(ratio)) > np.log(1.25)
    told = (has["grade"] != "accepted") | inside
    good = ~off
    return {
        "n": len(frame),
        "median": float(np.median(ratio)),
        "rms_ln": float(np.sqrt(np.mean(np.log(ratio) ** 2))),
        "inside": float(inside.mean()),
        "half_width": float(
            np.exp(np.median(0.5 * np.log((has["high"] / has["low"]).astype(float))))
        ),
        "off": float(off.mean()),
        "off_told": float(told[off].mean()) if off.any() else 1.0,
        "off_inside": float(inside[off].mean()) if off.any() else 1.0,
        "lost": float(((has["grade"] == "rejected") & good).sum() + frame["k"].isna().sum())
        / len(frame),
        "accepted": float((frame["grade"] == "accepted").mean()),
        "accepted_outside": float(((has["grade"] == "accepted") & ~inside).mean()),
    }


def table(frame: pd.DataFrame) -> pd.DataFrame:
    """Scores of every family and of all."""
    rows = {name: scores(part) for name, part in frame.groupby("family")}
    return pd.DataFrame({**rows, "all": scores(frame)}).T.round(3)


if __name__ == "__main__":
    import tempfile

    from real_tests import CLEAN, MIXTURE, mixture

    what, seed, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    rules = {"mixture": MIXTURE, "clean": CLEAN}[what.split(":")[0]]
    families = {what.split(":")[1]: 1.0} if ":" in what else None
    with tempfile.TemporaryDirectory() as place:
        found = through_the_program(mixture(seed, count, rules, families=families), Path(place))
    if len(sys.argv) > 4:
        found.to_pickle(sys.argv[4])
    pd.set_option("display.width", 200)
    print(table(found).to_string())
