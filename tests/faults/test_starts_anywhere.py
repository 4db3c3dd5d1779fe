"""The command starts on any machine: no home, no cache, a plain account, any locale, any folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from geoprofile.store import Store

ROOT = Path(__file__).parents[2]
COMPILED = ("numba", "llvmlite", "matplotlib")
HEAVY = (
    "import sys\nfrom geoprofile.cli import main\ntry:\n    main()\nexcept SystemExit:\n    pass\n"
)


def start(words: list[object], *, cwd: Path | None = None, **env: str):
    """The real command, in an environment with nothing but a path and what is given."""
    return subprocess.run(
        [sys.executable, "-P", "-m", "geoprofile", *map(str, words)],
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
        cwd=cwd,
        env={"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), **env},
    )


@pytest.fixture
def ready(inputs, tmp_path):
    """The folder of the small site with its loaded site file."""
    folder = shutil.copytree(inputs, tmp_path / "ready")
    done = start(["create", folder / "site.gpkg", "--crs", "EPSG:32632"])
    assert done.returncode == 0, done.stderr
    done = start(["load", folder / "site.gpkg", folder])
    assert done.returncode == 0, done.stderr
    return folder


def test_looking_and_loading_import_no_compiled_code(ready):
    """`--help`, `show`, `check` and `load` do not even look for compiled loops or drawing."""
    site = ready / "site.gpkg"
    for words in (["--help"], ["show", site], ["check", site], ["load", site, ready]):
        code = f"{HEAVY}print('LOADED', [m for m in {COMPILED} if m in sys.modules])"
        answer = subprocess.run(
            [sys.executable, "-c", code, *map(str, words)],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        assert "LOADED []" in answer.stdout, (words, answer.stdout, answer.stderr)


def test_nothing_can_be_kept_anywhere(ready, tmp_path):
    """No home, and files stand where the package's own cache would be: looking and computing."""
    shutil.copytree(
        ROOT / "geoprofile",
        tmp_path / "fixed" / "geoprofile",
        ignore=shutil.ignore_patterns("__pycache__"),
    )
    for folder in (".", "hydraulics", "kriging/covariance", "kriging/predict"):
        (tmp_path / "fixed" / "geoprofile" / folder / "__pycache__").write_bytes(b"")
    nowhere = {
        "PYTHONPATH": str(tmp_path / "fixed"),
        "PYTHONDONTWRITEBYTECODE": "1",
        "HOME": "/nonexistent",
        "XDG_CACHE_HOME": os.devnull,
    }
    answer = start(["show", ready / "site.gpkg", "interval"], **nowhere)
    assert answer.returncode == 0, answer.stderr
    code = (
        "import geoprofile\n"
        "from geoprofile.kriging.covariance import kernels, compiled\n"
        "from geoprofile.hydraulics import bessel\n"
        "assert 'fixed' in geoprofile.__file__ and kernels.fill is compiled.fill\n"
        "assert type(compiled.power._cache).__name__ == 'NullCache'\n"
        "print(compiled.power(-1.0))\n"
    )
    answer = subprocess.run(
        [sys.executable, "-P", "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": os.environ["PATH"], **nowhere},
    )
    assert answer.returncode == 0, answer.stderr
    assert float(answer.stdout) == pytest.approx(0.36787944117144233, rel=1e-13)  # 1/e


def test_no_variable_at_all(ready):
    """Neither HOME nor USER nor TMPDIR is set."""
    answer = start(["show", ready / "site.gpkg", "borehole"])
    assert answer.returncode == 0, answer.stderr


@pytest.mark.parametrize("utf8", ["0", "1"])
def test_the_c_locale_writes_and_reads_letters_beyond_ascii(ready, utf8):
    """A remark with an umlaut is loaded, shown and told; never a traceback."""
    holes = ready / "boreholes.csv"
    lines = holes.read_text(encoding="utf-8").splitlines()
    lines = [f"{line},{'remarks' if i == 0 else 'Würfel µ'}" for i, line in enumerate(lines)]
    holes.write_text("\n".join(lines) + "\n", encoding="utf-8")
    plain = {"LC_ALL": "C", "PYTHONUTF8": utf8, "PYTHONCOERCECLOCALE": "0"}
    site = ready / "site.gpkg"
    answer = start(["load", site, ready], **plain)
    assert answer.returncode == 0, answer.stderr
    assert set(Store.open(site).rows("borehole", ["remarks"])) == {("Würfel µ",)}
    answer = start(["show", site, "borehole"], **plain)
    assert (answer.returncode, "Traceback" in answer.stderr) == (0, False), answer.stderr
    assert "rfel" in answer.stdout


@pytest.mark.parametrize(
    "name", [b"with spaces and (brackets)", "Gelände µ".encode(), b"not \xff\xfe text"], ids=repr
)
def test_a_folder_of_any_name_works_or_says_one_sentence(inputs, tmp_path, name):
    """Create and load; where a library cannot take the name, one message and no half load."""
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
    shutil.copytree(inputs, folder)
    site = folder / "site.gpkg"
    for words in (["create", site, "--crs", "EPSG:32632"], ["load", site, folder]):
        answer = start(words)
        assert "Traceback" not in answer.stderr
        assert answer.returncode in (0, 1, 4), answer.stderr
        if answer.returncode:
            assert len(answer.stderr.strip().splitlines()) == 1, answer.stderr
    if b"\xff" not in name:
        assert len(Store.open(site).rows("borehole")) > 0
