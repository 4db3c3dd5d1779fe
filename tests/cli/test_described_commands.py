"""Other programs can read what the commands are, how far they are, and what they did."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from geoprofile.cli import cli
from geoprofile.cli._describing import commands, description, one
from geoprofile.cli._kinds import Known
from geoprofile.plugins import Layer, Setting, registry
from geoprofile.schema import TABLES
from geoprofile.store import Store

Command = Callable[..., subprocess.CompletedProcess[str]]


def lines_of(answer: subprocess.CompletedProcess[str]) -> list[dict[str, object]]:
    """The objects on stderr; every line is one."""
    return [json.loads(line) for line in answer.stderr.splitlines()]


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A site file with one borehole."""
    (tmp_path / "boreholes.csv").write_text(
        "borehole,x,y,ground_elevation_m,depth_m\nA1,500000,5300000,100,20\n"
    )
    Store.create(tmp_path / "site.gpkg", name="x", crs="EPSG:32632", vertical_datum="harbour zero")
    return tmp_path


def test_every_command_and_option_is_described() -> None:
    """None is left out, and each has a kind that a form can show."""
    told = description(cli)
    assert {" ".join(w) for w, _ in commands(cli)} == {
        " ".join(c["words"]) for c in told["commands"]
    }
    kinds = {"file", "folder", "either", "text", "choice", "number", "whole number", "yes or no"}
    for command in told["commands"]:
        assert command["summary"]
        assert command["example"].split()[: len(command["words"])] == command["words"]
        for option in command["options"]:
            assert option["kind"] in kinds
            assert (option["kind"] == "choice") == bool(option.get("choices"))
    json.dumps(told)


def test_kinds_units_limits_and_lists_are_told() -> None:
    """As they stand in the command itself."""
    told = {
        " ".join(c["words"]): {o["name"]: o for o in c["options"]}
        for c in description(cli)["commands"]
    }
    assert told["plan"]["zone_length_m"]["unit"] == "m"
    assert told["plan"]["purpose"]["choices"] == ["hydraulic", "chemistry", "both"]
    assert (told["conductivity"]["celsius"]["low"], told["conductivity"]["celsius"]["high"]) == (
        0,
        40,
    )
    assert told["load"]["sources"]["several"]
    assert told["load"]["site"]["is_made"] is False
    assert told["create"]["site"]["is_made"] is True
    assert told["report"]["file"]["is_made"] is True
    assert told["section"]["folder"]["default"] == "sections"
    tables = {" ".join(c["words"]): c["tables"] for c in description(cli)["commands"]}
    assert {"plume_extent", "model", "conductivity"} <= set(tables["map"])
    assert "section_band" not in tables["map"]
    assert set(tables["run"]) == {t.name for t in TABLES.values() if t.owner == "derived"} - {
        "finding"
    }
    assert tables["show"] == []


def test_what_a_package_adds_is_described(monkeypatch: pytest.MonkeyPatch) -> None:
    """A layer with settings, and an option of a command, appear by themselves."""
    extra = Layer(
        "dust",
        "Dust.",
        (),
        (),
        lambda s, t, p: {},
        (Setting("depth_m", 2.0, "m", "How deep", low=0),),
    )
    known = registry.plugins("layers")
    monkeypatch.setattr(
        registry, "plugins", lambda family: {**known, "dust": extra} if family == "layers" else {}
    )
    monkeypatch.setattr("geoprofile.cli._describing._tables_of", lambda layers: [])
    layers = {x["name"]: x for x in description(cli)["settings"]["layers"]}
    assert layers["dust"]["settings"][0]["low"] == 0
    added = click.Command("x", params=[click.Option(["--wet"], is_flag=True, help="Wet.")])
    assert one(("x",), added)["options"][0]["kind"] == "yes or no"


def test_a_program_reads_what_changed_and_what_went_wrong(small: Path, command: Command) -> None:
    """The tables that changed by file; each problem in its four parts; nothing else on stderr."""
    answer = command("load", "site.gpkg", ".", "--progress", "json", cwd=small)
    assert answer.returncode == 0, answer.stderr
    end = lines_of(answer)[-1]
    assert end["done"] is True
    assert "borehole" in end["tables"][str(small / "site.gpkg")]  # type: ignore[index]
    assert "packer" not in end["tables"][str(small / "site.gpkg")]  # type: ignore[index]
    for words, place in (
        (("show", "none.gpkg"), "none.gpkg"),
        (("show", "site.gpkg", "nothing"), "site"),
        (("load", "site.gpkg", ".", "--wrong"), "geoprofile load"),
    ):
        answer = command(*words, "--progress=json", cwd=small)
        (told,) = lines_of(answer)
        assert told["exit_code"] == answer.returncode != 0
        assert [set(p) for p in told["error"]] == [{"where", "found", "expected", "advice"}]  # type: ignore[attr-defined]
        assert told["error"][0]["where"] == place  # type: ignore[index]


def test_progress_rises_and_files_are_named(
    demo_run: Path, tmp_path: Path, command: Command
) -> None:
    """Percent by step; the tables computed again and the files made stand at the end."""
    shutil.copyfile(demo_run / "site.gpkg", tmp_path / "site.gpkg")
    answer = command(
        "discharge",
        "site.gpkg",
        "--progress",
        "json",
        "--set",
        "discharge.seed=7",
        "--figures",
        "made",
        cwd=tmp_path,
    )
    told = lines_of(answer)
    steps = [line["percent"] for line in told if line.get("step") == "discharge"]
    assert steps == sorted(steps)
    assert steps[0] == 0
    assert all(Path(f).is_file() for f in told[-1]["files"])  # type: ignore[attr-defined]
    (changed,) = told[-1]["tables"].values()  # type: ignore[attr-defined]
    assert {"discharge", "discharge_cell", "step", "run"} <= set(changed)
    assert "map_band" not in changed


def test_dry_run_says_what_is_stale(demo_run: Path, tmp_path: Path, command: Command) -> None:
    """Nothing after a run; what a setting touches, and why; and not a byte changes."""
    path = tmp_path / "site.gpkg"
    shutil.copyfile(demo_run / "site.gpkg", path)
    before = path.read_bytes()
    answer = command("run", demo_run, "--dry-run")
    assert (answer.stdout, answer.stderr) == ("", "Nothing is stale.\n")
    assert command("map", path, "--dry-run").stderr == "Nothing is stale.\n"
    answer = command("advise", path, "--dry-run", "--format", "json", "--set", "model.seed=7")
    told = {row["layer"]: row["why"] for row in json.loads(answer.stdout)}
    assert told["model"] == "other settings"
    assert "model" in told["next_test"]
    assert not {"conductivity", "map_band"} & set(told)
    assert path.read_bytes() == before


def test_lists_are_quick_and_in_the_plural(small: Path, command: Command) -> None:
    """What a pick list needs, as a program asks for it; all tables when none is named."""
    command("load", "site.gpkg", ".", cwd=small)
    rows = json.loads(
        command("show", "site.gpkg", "boreholes", "--format", "json", cwd=small).stdout
    )
    assert [row["borehole"] for row in rows] == ["A1"]
    tables = json.loads(command("show", "site.gpkg", "--format", "json", cwd=small).stdout)
    assert {"borehole": 1, "packer": 0}.items() <= {t["table"]: t["rows"] for t in tables}.items()
    wrong = command("show", "site.gpkg", "boreholez", cwd=small)
    assert "Did you mean 'borehole'?" in wrong.stderr
    import sys

    code = (
        "import sys; sys.argv[1:] = ['show', 'site.gpkg', 'boreholes', '--format', 'json']\n"
        "from geoprofile.cli import main; main()\n"
        "print([m for m in ('numpy', 'pandas') if m in sys.modules])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=small, capture_output=True, text=True, check=True
    )
    assert answer.stdout.endswith("[]\n")


@pytest.mark.parametrize(
    ("kind", "typed", "offered"),
    [
        (Known("boreholes"), "A", ["A1"]),
        (Known("boreholes", separated=True), "B7,A", ["B7,A1"]),
        (Known("tables"), "bor", ["borehole"]),
        (Known("quantities"), "", ["K"]),
        (Known("settings"), "map_band.elev", ["map_band.elevations_m="]),
        (Known("formats"), "geoj", ["geojson"]),
    ],
)
def test_the_shell_completes_names(
    small: Path, command: Command, kind: Known, typed: str, offered: list[str]
) -> None:
    """Of the site file, and of the program."""
    command("load", "site.gpkg", ".", cwd=small)
    context = click.Context(click.Command("x"))
    context.params = {"site": small / "site.gpkg"}
    found = kind.shell_complete(context, click.Option(["--x"]), typed)
    assert [item.value for item in found] == offered
    context.params = {"site": small / "none.gpkg"}
    assert Known("boreholes").shell_complete(context, click.Option(["--x"]), "") == []


def test_every_command_can_be_asked_for_lines() -> None:
    """Those inside a group, too."""
    for words, command in commands(cli):
        assert [p.opts for p in command.params].count(["--progress"]) == 1, words
