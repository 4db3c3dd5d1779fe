"""The plugin in the real GIS: forms, commands, cancel, errors, layers, dock; as in the terminal."""

from __future__ import annotations

import ast
import configparser
import json
import os
import shlex
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
from beside import module_of

from geoprofile import __version__
from geoprofile.cli import cli
from geoprofile.cli._describing import commands, description
from geoprofile.gisplugin import NAME, Publisher, write_folder, write_zip
from geoprofile.schema import DERIVED
from geoprofile.store import Store, inspect

ROOT = Path(__file__).parents[2]
PROCESS = "qgis_process.bin"  # its wrapper in Debian passes an option that it does not know
TEMPLATE = ROOT / "geoprofile" / "gisplugin" / "template"


def small_site(folder: Path) -> Path:
    """The small site of the fault tests."""
    return module_of("faults/small_site.py").write_small_site(folder)


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A Python that has the program though it is told to look at nothing of the user's."""
    place = tmp_path_factory.mktemp("program") / "python"
    code = f"import sys; sys.path.insert(0, {str(ROOT)!r})"
    # stands for the Python of an environment in which the program is installed
    place.write_text(
        f"#!/bin/sh\nshift 3\nexec {sys.executable} -I -c \"{code}; sys.argv[0] = 'geoprofile'\n"
        'from geoprofile.cli import main; main()" "$@"\n'
    )
    place.chmod(0o755)
    return place


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory, python: Path) -> Path:
    """A folder with the plugin in it."""
    folder = tmp_path_factory.mktemp("plugins")
    write_folder(folder, {**description(cli), "python": str(python)}, Publisher())
    return folder


@pytest.fixture
def steps(gis: Callable[..., Any], written: Path, tmp_path: Path) -> Callable[..., list[Any]]:
    """Do steps in one process of the GIS, with what spoils a Python set in it."""

    def call(*listed: list[Any]) -> list[Any]:
        (tmp_path / "steps.json").write_text(json.dumps(listed, default=str))
        bad = {"PROJ_LIB": "/nowhere", "GDAL_DATA": "/nowhere", "GEOPROFILE_PYTHON": ""}
        return gis("run_plugin.py", written, tmp_path / "steps.json", **bad)

    return call


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory, command: Any) -> Path:
    """The small site, loaded and not computed."""
    folder = small_site(tmp_path_factory.mktemp("loaded") / "site")
    site = folder / "site.gpkg"
    assert command("create", site, "--crs", "EPSG:32632").returncode == 0
    assert command("load", site, folder).returncode == 0
    return folder


def tables_of(path: Path) -> dict[str, str]:
    """Fingerprints of what was computed."""
    return Store.open(path).fingerprints([t.name for t in DERIVED])


def in_the_gis(written: Path, tmp_path: Path, *words: str) -> None:
    """Run an algorithm through the GIS's own command line, with a profile of its own."""
    if shutil.which(PROCESS) is None:
        pytest.skip("no qgis_process.bin")
    plugins = tmp_path / "home/.local/share/QGIS/QGIS3/profiles/default/python/plugins"
    if not plugins.exists():
        shutil.copytree(written, plugins)
        (tmp_path / "xdg").mkdir(mode=0o700)
        in_the_gis(written, tmp_path, "plugins", "enable", NAME)
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(tmp_path / "home"),
        "QT_QPA_PLATFORM": "offscreen",
        "XDG_RUNTIME_DIR": str(tmp_path / "xdg"),
        "GDAL_DATA": "/nowhere",
    }
    done = subprocess.run(
        [PROCESS, *words], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_gis_runs_it_as_the_terminal_does(
    gis: Any, written: Path, loaded: Path, tmp_path: Path, command: Any
) -> None:
    """A command through the GIS's own command line: same tables."""
    for place in ("one", "other"):
        shutil.copytree(loaded, tmp_path / place)
    site, other = tmp_path / "one" / "site.gpkg", tmp_path / "other" / "site.gpkg"
    in_the_gis(written, tmp_path, "run", "geoprofile:conductivity", "--", f"site={site}")
    assert command("conductivity", other).returncode == 0
    assert tables_of(site) == tables_of(other)
    assert len(Store.open(site).rows("interval_conductivity")) == 12


def test_commands_layers_and_messages(
    steps: Any, loaded: Path, tmp_path: Path, command: Any
) -> None:
    """In one process of the GIS, one after the other."""
    shutil.copytree(loaded, tmp_path / "gis")
    folder, site = tmp_path / "gis", tmp_path / "gis" / "site.gpkg"
    more = folder / "boreholes.csv"
    lines = more.read_text().splitlines()
    more.write_text("\n".join([*lines, lines[-1].replace("A4", "A5").replace("500060", "500090")]))
    answers = steps(
        ["form", "plan"],
        ["open", site, "borehole"],
        ["open", site, "interval"],
        ["run", "load", {"site": str(site), "sources": [str(folder)]}],
        ["see"],
        ["run", "show", {"site": str(site), "table": "boreholes", "form": "json"}],
        ["run", "show", {"site": str(site), "table": "boreholez"}],
        ["run", "map", {"site": str(site), "assignments": "map_band.nothing=1"}],
        ["run", "plan", {"site": str(site), "borehole": "A1", "purpose": "neither"}],
        ["dock"],
        ["program", str(tmp_path / "none")],
        ["run", "check", {"site": str(site)}],
    )
    form, holes, _, took, seen, shown, wrong, setting, choice, dock, *rest = answers
    assert form["zone_length_m"] == ["number", "Length of the zones [m]"]
    assert form["site"][0] == "file"
    assert form["purpose"][0] == "enum"
    assert form["folder"][0] == "folderDestination"
    assert holes == 4
    assert took["done"], took
    assert "reloaded: my borehole" in took["told"]
    assert sorted(seen) == [["my borehole", 5, 0.25], ["my interval", 12, 0.25]]
    names = [r["borehole"] for r in json.loads(shown["results"]["said"])]
    assert names == ["A1", "A2", "A3", "A4", "A5"]
    assert len(wrong["errors"]) == 1
    assert "found no table 'boreholez', expected one of" in wrong["errors"][0]
    assert "found 'nothing', expected one of" in setting["errors"][0]
    assert not choice["done"]
    assert dock["advice"] == 0
    assert not dock["planned"]
    assert "found no file, expected the Python of its environment." in rest[0]
    assert len(rest[1]["errors"]) == 1
    assert "Set up" in rest[1]["errors"][0]


def test_a_finding_leads_to_its_place(
    steps: Any, loaded: Path, tmp_path: Path, command: Any
) -> None:
    """A row of any table, by its own name or by what it belongs to; a batch to none."""
    shutil.copytree(loaded, tmp_path / "site")
    site = tmp_path / "site" / "site.gpkg"
    assert command("project", site).returncode == 0
    store = Store.open(site)
    sample, analyte = store.rows("result", ["sample", "analyte"])[0]
    zone = dict(store.rows("sample", ["sample", "interval"]))[sample]
    hole = dict(store.rows("interval", ["interval", "borehole"]))
    test, tested = store.rows("test", ["test", "interval"])[0]
    rows = [
        ["borehole", "A2"],
        ["result", f"{sample} {analyte}"],
        ["sample", sample],
        ["sample", f"{zone} R1"],
        ["test", json.dumps([test])],
        ["interval", "A3"],
        ["water_level", "A1"],
        ["test", "all"],
    ]
    (answer,) = steps(["zoom", str(site.with_suffix(".qgz")), rows])
    wanted = ["A2", hole[zone], hole[zone], hole[zone], hole[tested], "A3", "A1"]
    assert answer == [*(["Boreholes", [w]] for w in wanted), None]


def test_cancel_leaves_a_sound_file(steps: Any, loaded: Path, tmp_path: Path) -> None:
    """After a second: one sentence, soon, and the tables as they were."""
    shutil.copytree(loaded, tmp_path / "site")
    site = tmp_path / "site" / "site.gpkg"
    before = tables_of(site)
    (answer,) = steps(["cancel", "run", {"folder": str(tmp_path / "site")}, 1.0])
    assert answer["errors"] == ["Cancelled: nothing half-done was stored."]
    assert inspect(site) == []
    assert tables_of(site) == before
    assert not [p.name for p in site.parent.iterdir() if p.name.startswith(".")]


@pytest.mark.calibration
def test_the_button_shows_the_answer(
    steps: Any, loaded: Path, tmp_path: Path, command: Any
) -> None:
    """Cancelled: nothing is stored. To its end: the project that is open has the new layers, but
    one with changes that are not saved is left as it is.
    """
    for place in ("site", "changed"):
        shutil.copytree(loaded, tmp_path / place)
        assert command("project", tmp_path / place / "site.gpkg").returncode == 0
    project = tmp_path / "site" / "site.qgz"
    before = tables_of(tmp_path / "site" / "site.gpkg")
    (stopped,) = steps(["compute", str(project), 1.0])
    assert "Cancelled: nothing half-done was stored." in stopped["said"]
    assert not stopped["busy"]
    assert stopped["after"] == stopped["before"]
    assert tables_of(project.with_suffix(".gpkg")) == before
    done, changed = steps(
        ["compute", str(project), None],
        ["compute", str(tmp_path / "changed" / "site.qgz"), None, "changed"],
    )
    assert not done["busy"], "it did not end"
    assert not changed["busy"], "it did not end"
    new = done["after"] - done["before"]
    assert new > 20, done
    assert f"{new} new layers are shown." in done["said"]
    assert not done["twice"]
    assert done["invalid"] == []
    assert changed["after"] == changed["before"]
    assert "new layers are in site.qgz: save this project, then open that one." in changed["said"]


@pytest.mark.calibration
def test_run_map_report_and_plan(
    steps: Any, gis: Any, written: Path, small_run: Path, tmp_path: Path, command: Any
) -> None:
    """What computes: the same tables as the terminal; a proposed test is planned from the dock."""
    new = small_site(tmp_path / "new")
    in_the_gis(written, tmp_path, "run", "geoprofile:run", "--", f"folder={new}")
    assert tables_of(new / "site.gpkg") == tables_of(small_run / "site.gpkg")
    for place in ("gis", "terminal"):
        shutil.copytree(small_run, tmp_path / place)
    site, other = tmp_path / "gis" / "site.gpkg", tmp_path / "terminal" / "site.gpkg"
    setting = "plume_extent.realisations=30"
    answers = steps(
        ["open", site, "borehole"],
        ["open", site, "plume_extent"],
        ["run", "map", {"site": str(site), "assignments": setting}],
        ["run", "report", {"site": str(site), "file": str(tmp_path / "r.html")}],
        ["dock"],
    )
    _, _, mapped, report, dock = answers
    assert mapped["done"], mapped
    assert mapped["percents"] > 3
    assert "reloaded: my plume_extent" in mapped["told"]
    assert command("map", other, "--set", setting).returncode == 0
    assert tables_of(site) == tables_of(other)
    assert report["results"]["file"] == str(tmp_path / "r.html")
    assert (tmp_path / "r.html").stat().st_size > 10000
    assert dock["advice"] >= 1
    assert dock["planned"]
    assert list((tmp_path / "gis").glob("plan of test 1/*")), dock


def test_an_old_program_and_a_bad_environment_are_told_in_words(steps: Any, tmp_path: Path) -> None:
    """One message each: no describe, an older version, a Python without the program, no wheels."""

    def script(name: str, text: str) -> str:
        (tmp_path / name).write_text(f"#!/bin/sh\n{text}\n")
        (tmp_path / name).chmod(0o755)
        return str(tmp_path / name)

    watched, calls = tmp_path / "watched", tmp_path / "calls"
    watched.touch()
    right = {"description": 1, "version": __version__, "commands": []}
    counted = tmp_path / "counted"
    counted.write_text(
        "#!/usr/bin/python3\nimport json, os\n"
        f"open({str(calls)!r}, 'a').write('asked\\n')\n"
        f"watch = [[{str(watched)!r}, os.stat({str(watched)!r}).st_mtime_ns]]\n"
        f"print(json.dumps({{**{right!r}, 'watch': watch}}))\n"
    )
    counted.chmod(0o755)
    told = json.dumps({"description": 1, "version": "0.0.1", "watch": [], "commands": []})
    asked, *answers = steps(
        ["kept", counted, watched, calls],
        ["program", script("first", "echo \"Error: There is no command 'describe'.\" >&2; exit 2")],
        ["program", script("older", f"echo '{told}'")],
        ["program", "/usr/bin/python3"],
        ["environment", script("python", "echo 3 9"), tmp_path / "made", ""],
        ["environment", sys.executable, tmp_path / "made", tmp_path],
        ["environment", sys.executable, tmp_path / "made", ""],
    )
    assert asked == [1, 1, 2]  # what it can do is kept until a folder that it names has changed
    assert f"found an older geoprofile, expected version {__version__}" in answers[0]
    assert f"found geoprofile 0.0.1, expected version {__version__}" in answers[1]
    assert "found a Python without geoprofile" in answers[2]
    assert "found Python 3.9, expected 3.11 or later" in answers[3]
    for answer in answers[4:]:  # never by its name from an index
        assert f"found no wheel of geoprofile, expected a folder with geoprofile-{__version__}" in (
            answer
        )
    assert not (tmp_path / "made").exists()


def test_a_repository_of_plugins_would_take_it(tmp_path: Path) -> None:
    """What its rules ask for, from memory: metadata, licence, one folder, no compiled file, and
    nothing that its security scan names: no shell, no subprocess, no exec, no pickle.
    """
    publisher = Publisher("A. Nobody", "a@example.org", *(["https://example.org"] * 3))
    path = write_zip(tmp_path / "p.zip", description(cli), publisher)
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        metadata = configparser.ConfigParser(interpolation=None)
        metadata.read_string(archive.read(f"{NAME}/metadata.txt").decode())
        assert sys.prefix.encode() not in archive.read(f"{NAME}/description.json")
    assert {n.split("/")[0] for n in names} == {NAME}
    assert {f"{NAME}/LICENSE", f"{NAME}/__init__.py"} <= set(names)
    general = metadata["general"]
    for key in ("name", "qgisMinimumVersion", "description", "about", "version", "author", "email"):
        assert general[key]
    assert all(general[k].startswith("https://") for k in ("homepage", "tracker", "repository"))
    assert (general["supportsQt6"], general["version"]) == ("yes", __version__)


@pytest.mark.parametrize("path", sorted(TEMPLATE.glob("*.py")), ids=lambda p: p.name)
def test_the_plugin_is_an_empty_shell(path: Path) -> None:
    """It imports the GIS and the standard library only, reads on Python 3.9, and names no command
    but in the dock.
    """
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text, feature_version=(3, 9))
    modules = {
        (node.module or "").split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.level == 0
    } | {a.name.split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    assert modules <= {"qgis", *sys.stdlib_module_names} - {"subprocess", "pickle"}
    assert "PyQt5" not in text
    assert "PyQt6" not in text
    words = {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant)}
    names = {w[0] for w, _ in commands(cli)}
    allowed = {"dock.py": {"run", "plan", "show"}, "program.py": {"describe"}}
    assert words & names <= allowed.get(path.name, set()) | {"completion", "project"}


def python_with_next_qt() -> str | None:
    """A Python of this machine that has the bindings of the next Qt."""
    for one in (sys.executable, "/usr/bin/python3"):
        words = [one, "-c", "import PyQt6.QtWidgets"]
        if (
            shutil.which(one)
            and not subprocess.run(words, capture_output=True, check=False).returncode
        ):
            return one
    return None


def test_windows_and_children_work_with_the_next_qt(written: Path, tmp_path: Path) -> None:
    """Every name of Qt is there; dialog, dock, menu and a child that is cancelled work with it."""
    qt = python_with_next_qt()
    if qt is None:
        if os.environ.get("GEOPROFILE_NEXT_QT") == "required":
            pytest.fail("the next Qt should be here, but cannot be loaded")
        pytest.skip("no PyQt6 on this machine (Debian: apt-get install python3-pyqt6)")
    plugin = written / NAME
    program = tmp_path / "python"
    program.write_text(f"#!/bin/sh\ncat '{plugin / 'description.json'}'\n")
    program.chmod(0o755)
    done = subprocess.run(
        [qt, Path(__file__).parent / "next_qt_plugin.py", plugin, program],
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
    )
    assert "ANSWER" in done.stdout, done.stderr
    told = json.loads(done.stdout.partition("ANSWER")[2])
    assert told["unknown"] == []
    assert told["dialog"] == 1
    assert told["used"]
    assert f"geoprofile {__version__} answers" in told["said"]
    assert told["python"] == str(program)
    assert "Open the project of a site" in told["dock"]
    assert (told["filled"], told["cancelled"]) == ("A1", [True, True])


@pytest.mark.calibration
def test_every_command_on_the_demonstration(
    steps: Any, demo_run: Path, tmp_path: Path, command: Any
) -> None:
    """The example of each, in the GIS and in the terminal: same tables."""
    for place in ("gis", "terminal"):
        (tmp_path / place).mkdir()
        shutil.copytree(demo_run, tmp_path / place / "demo_site")
        shutil.copyfile(demo_run / "site.gpkg", tmp_path / place / "site.gpkg")
        command("handover", "site.gpkg", "for_the_client", "--review", cwd=tmp_path / place)
    listed, examples = [], []
    for words, one in commands(cli):
        told = " ".join((one.help or "").split()).partition("Example: geoprofile ")[2]
        if words[0] in ("completion", "reproduce") or words == ("field", "in"):
            continue
        rest = shlex.split(told)[len(words) :]
        values = one.make_context(words[-1], list(rest), resilient_parsing=True).params
        listed.append(["run", "_".join(words), plain(one, values, tmp_path / "gis")])
        examples.append(shlex.split(told))
    for words, answer in zip(examples, steps(*listed), strict=True):
        assert answer["done"], (words, answer)
        assert command(*words, cwd=tmp_path / "terminal").returncode == 0
    for name in ("site.gpkg", "demo_site/site.gpkg"):
        assert tables_of(tmp_path / "gis" / name) == tables_of(tmp_path / "terminal" / name)


def plain(one: click.Command, values: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Values of a command line as a form has them: paths in that folder, lists as lines."""
    found = {}
    for parameter in one.params:
        value = values.get(parameter.name)
        if value in (None, (), "") or value == parameter.default:
            continue
        is_path = isinstance(parameter.type, click.Path)
        many = value if isinstance(value, tuple) else (value,)
        texts = [str(folder / v) if is_path else v for v in many]
        found[parameter.name] = (
            (texts if is_path else "\n".join(map(str, texts)))
            if isinstance(value, tuple)
            else texts[0]
        )
    return found
