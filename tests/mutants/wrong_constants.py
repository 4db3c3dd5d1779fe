"""Twenty wrong constants, one at a time, and what `geoprofile validate` says of each.

    python tests/mutants/wrong_constants.py          # the page that should fail, each time
    python tests/mutants/wrong_constants.py --whole  # the whole book, each time

The tree is not changed: a process is given another text for one file as it is imported.
"""

from __future__ import annotations

import csv
import importlib.machinery
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Wrong:
    """A file of the package, the text replaced, and the topic whose lines must fail."""

    path: str
    before: str
    after: str
    topic: str


WRONG = (
    Wrong("hydraulics/water.py", "(511.45, -7.7)", "(513.45, -7.7)", "water"),
    Wrong("units.py", '"inch"', '"0.0253 meter"', "units"),
    Wrong("units.py", "value * slope", "value * slope * 1.001", "concentration"),
    Wrong("intake/gases.py", "8.314462618", "8.354462618", "concentration"),
    Wrong("hydraulics/shapes.py", "return 2.75 * diameter", "return 2.57 * diameter", "k-recovery"),
    Wrong("hydraulics/lugeon.py", "1e-3 / 60.0", "0.98e-3 / 60.0", "k-flow"),
    Wrong("hydraulics/losses.py", "10.67 * length", "10.97 * length", "k-flow"),
    Wrong("products/discharge/mass_flux.py", "86400.0", "84600.0", "discharge"),
    Wrong("packers/equipment.py", "DENSITY = 999.7", "DENSITY = 979.7", "field-work"),
    Wrong("geometry/trajectory.py", "half**2 / 3, np.tan(half)", "half**2 / 3, half", "depth"),
    Wrong("hydraulics/methods/moye.py", "return 1.0 + math.log", "return 1.1 + math.log", "k-flow"),
    Wrong("hydraulics/shapes.py", "first = 1.1 / math", "first = 1.0 / math", "k-recovery"),
    Wrong("hydraulics/losses.py", "+ 2.51 * inverse", "+ 2.15 * inverse", "k-flow"),
    Wrong("products/maps/columns.py", "KG_PER_M3 = 1e-6", "KG_PER_M3 = 1e-9", "plume"),
    Wrong("products/rounds/rounds.py", "365.25 * 86400", "360.0 * 86400", "trend"),
    Wrong("products/rounds/trends.py", "(2 * n + 5) / 18.0", "(2 * n + 5) / 16.0", "trend"),
    Wrong("kriging/covariance/functions.py", "5.0 / 3.0", "3.0 / 5.0", "fields"),
    Wrong("packers/purge.py", "math.pi / 4.0 * inner", "math.pi / 2.0 * inner", "field-work"),
    Wrong(
        "products/heads/head.py",
        "gradient, sd = (below.head_m -",
        "gradient, sd = 2 * (below.head_m -",
        "heads",
    ),
    Wrong(
        "store/blobs.py",
        "ENVELOPE_XY, EMPTY = 0x01, 0x02",
        "ENVELOPE_XY, EMPTY = 0x01, 0x04",
        "site-file",
    ),
)


def failed_topics(wrong: Wrong, *, whole: bool = False) -> tuple[int, set[str]]:
    """The exit code of `validate` with that change, and the topics of the lines that fail."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "v.html"
        words = [sys.executable, __file__, wrong.path, wrong.before, wrong.after, str(page)]
        words += [] if whole else ["--page", wrong.topic]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        if not page.is_file():
            raise RuntimeError(done.stderr[-2000:])
        with page.with_suffix(".csv").open(encoding="utf-8") as rows:
            lines = list(csv.DictReader(rows))
    return done.returncode, {r["topic"] for r in lines if r["status"] == "fail"}


def run_changed(path: str, before: str, after: str, *words: str) -> None:
    """Run the command in this process with one file changed as it is imported."""
    loader = importlib.machinery.SourceFileLoader
    plain_data, plain_stats = loader.get_data, loader.path_stats
    ending = f"geoprofile/{path}"

    def get_data(self: Any, name: str) -> bytes:
        data = plain_data(self, name)
        if not str(name).replace("\\", "/").endswith(ending):
            return data
        text = data.decode("utf-8")
        if before not in text:
            raise RuntimeError(f"{path} does not hold {before}")
        return text.replace(before, after).encode()

    def path_stats(self: Any, name: str) -> Any:
        if str(name).replace("\\", "/").endswith(ending):
            raise OSError("no compiled file for this one")
        return plain_stats(self, name)

    loader.get_data, loader.path_stats = get_data, path_stats  # type: ignore[method-assign]
    from geoprofile.cli import main

    sys.argv = ["geoprofile", "validate", *words]
    main()


if __name__ == "__main__":
    if len(sys.argv) > 2:
        run_changed(*sys.argv[1:])
    for one in WRONG:
        code, topics = failed_topics(one, whole="--whole" in sys.argv)
        right = code == 1 and one.topic in topics
        words = f"{one.path}: {one.before} -> {one.after}: {sorted(topics)}"
        print("seen" if right else "MISSED", words, flush=True)
