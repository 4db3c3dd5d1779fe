"""The command answers at once: neither help nor an unchanged site needs numbers and maps."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HEAVY = (
    "numpy",
    "pandas",
    "geopandas",
    "shapely",
    "fiona",
    "pyogrio",
    "matplotlib",
    "scipy",
    "numba",
)


def answered(*words: str) -> tuple[str, str, list[str]]:
    """What a command says on stdout and stderr, and which heavy libraries it has imported."""
    code = (
        "import sys\nfrom geoprofile.cli import cli\n"
        "try:\n    cli.main(sys.argv[1:], standalone_mode=False)\n"
        "except SystemExit:\n    pass\n"
        "print('LOADED', [m for m in sys.modules if '.' not in m])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=True
    )
    said, loaded = answer.stdout.split("LOADED")
    return said, answer.stderr, [name for name in HEAVY if f"'{name}'" in loaded]


def test_help_imports_nothing_heavy() -> None:
    """`geoprofile --help` imports neither numpy nor GIS libraries."""
    said, _, heavy = answered("--help")
    assert "Commands" in said
    assert not heavy


def test_nothing_changed_is_said_without_them(demo_run: Path) -> None:
    """Fingerprints of files and tables are compared before anything heavy is imported."""
    said, told, heavy = answered("run", str(demo_run))
    assert "Nothing has changed" in told
    assert "14 boreholes" in said
    assert not heavy
