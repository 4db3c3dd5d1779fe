"""Files are written through one door: whole, on the disk, and never through a link."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from writers import doors, writers

PACKAGE = Path(__file__).parents[2] / "geoprofile"
# rooms and files that write past the door, and why they may
PAST_IT = {
    "cli/_net.py": "the record of a crash: a new file, through no link, of use also if cut short",
    "formats/": "into the private folder that _staging.py gives each format",
    "gisplugin/template/": "runs in the GIS, without the package",
    "handover/review.py": "into the private folder of packing.py, and a copy in a temporary one",
    "intake/plain_paths.py": "a copy with a plain name in a temporary folder",
    "kriging/predict/executors.py": "what workers share, in a temporary folder",
    "products/packer_plan/figure_set_up.py": "into a text in memory",
    "reference/__init__.py": "pages of the sources, made anew by the makers",
    "store/connection.py": "opens a site file, which is changed in place within a transaction",
    "store/last_changes.py": "opens a site file to read",
    "store/sidecars.py": "moves what a database left beside it out of its way, and keeps it",
    "testing/": "another hand is to write as it likes",
    "validation/cases/": "sites of their own in a temporary folder",
    "whole.py": "the door itself",
}
FORMS = (
    "open(path, 'w')",
    "open(path, mode='ab')",
    "path.open('x', newline='')",
    "gzip.open(path, 'wt')",
    "rasterio.open(path, 'w', **profile)",
    "os.open(path, os.O_RDWR | os.O_CREAT)",
    "zipfile.ZipFile(path, 'w', zipfile.ZIP_DEFLATED)",
    "from zipfile import ZipFile\nZipFile(path, mode='a')",
    "os.replace(a, b)",
    "from os import replace\nreplace(a, b)",
    "beside.replace(place)",
    "beside.rename(place)",
    "shutil.copy(a, b)",
    "shutil.move(a, b)",
    "from shutil import copy2 as kept\nkept(a, b)",
    "from rasterio.shutil import copy\ncopy(a, b, driver='COG')",
    "frame.to_parquet(path)",
    "frame.to_csv(path)",
    "frame.to_csv(path_or_buf=path)",
    "pyogrio.write_dataframe(frame, path)",
    "figure.savefig(path)",
    "np.save(path, values)",
    "sqlite3.connect(path)",
    "path.write_text('')",
)
NONE = (
    "open(path)",
    "open(path, 'rb')",
    "path.open(encoding='utf-8')",
    "zipfile.ZipFile(path)",
    "os.open(path, os.O_RDONLY)",
    "text.replace('a', 'b')",
    "time.replace(tzinfo=None)",
    "frame.replace({1: 2})",
    "frame.rename(columns=names)",
    "from dataclasses import replace\nreplace(row)",
    "frame.to_csv()",
    "values.copy()",
    "from geoprofile.whole import write_text\nwrite_text(path, text)",
    "from geoprofile.drawing import theme\ntheme.save(figure, path)",
)


def test_whoever_writes_a_file_goes_through_the_door() -> None:
    """A module that writes takes its place from `whole`, or is told why it need not."""
    amiss, through, used = [], 0, set()
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found = writers(tree)
        told = [place for place in PAST_IT if name.startswith(place)]
        if found and told and not doors(tree):
            used.update(told)
        elif found and not told:
            through += bool(doors(tree))
            amiss += [] if doors(tree) else [(name, found)]
    assert amiss == []
    assert through > 10
    assert used == set(PAST_IT)  # none is excused that writes nothing


@pytest.mark.parametrize("code", FORMS)
def test_every_form_of_writing_is_found(code: str) -> None:
    """By a path, a module, a name of its own, a mode or a flag."""
    assert len(writers(ast.parse(code))) == 1


@pytest.mark.parametrize("code", NONE)
def test_what_writes_nothing_is_not_found(code: str) -> None:
    """Reading, and methods of texts, times and tables that have the same names."""
    assert writers(ast.parse(code)) == set()
