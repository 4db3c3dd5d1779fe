"""Runs the demonstration in a temporary folder and keeps the two pictures of the README.

python demo_site/make_pictures.py
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import geoprofile

HERE = Path(__file__).parent
PICTURES = ("map.png", "section_a_tce.png")


def main() -> None:
    """Run, then copy."""
    with tempfile.TemporaryDirectory() as folder:
        site = Path(folder) / "demo_site"
        ignore = shutil.ignore_patterns("*.gpkg*", "out", "maker", "pictures", "__pycache__")
        shutil.copytree(HERE, site, ignore=ignore)
        for line in geoprofile.run(site).summary:
            print(line)
        (HERE / "pictures").mkdir(exist_ok=True)
        for name in PICTURES:
            shutil.copy(site / "out" / name, HERE / "pictures" / name)


if __name__ == "__main__":
    main()
