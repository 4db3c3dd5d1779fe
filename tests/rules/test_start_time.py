"""The command answers at once: help needs no numbers and no maps."""

from __future__ import annotations

import subprocess
import sys

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


def test_help_imports_nothing_heavy() -> None:
    """`geoprofile --help` imports neither numpy nor GIS libraries."""
    code = (
        "import sys\nfrom geoprofile.cli import cli\n"
        "try:\n    cli.main(['--help'], standalone_mode=False)\n"
        "except SystemExit:\n    pass\n"
        "print('LOADED', [m for m in sys.modules if '.' not in m])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    loaded = answer.stdout.split("LOADED")[1]
    assert "Commands" in answer.stdout
    assert not [name for name in HEAVY if f"'{name}'" in loaded]
