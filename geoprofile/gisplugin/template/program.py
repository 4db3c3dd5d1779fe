"""Finds the installed program, asks it what it can do, and says what is wrong with it."""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

from qgis.core import QgsApplication, QgsSettings

from .child import Answer, call

HERE = Path(__file__).parent
KEY = "geoprofile/python"
VARIABLE = "GEOPROFILE_PYTHON"
FORM = 1  # of the description that this plugin reads
SET_UP = "Choose or make an environment: menu Plugins, geoprofile, Set up."


class ProgramError(Exception):
    """The program is missing, too old or too new; the text has four parts."""


def written_for() -> dict[str, Any]:
    """What the program that wrote this plugin said of itself then."""
    text = (HERE / "description.json").read_text(encoding="utf-8")
    told: dict[str, Any] = json.loads(text)
    return told


def python() -> str:
    """The Python that has the program: as set up, as the environment says, or the writer's own."""
    chosen = QgsSettings().value(KEY, "", type=str)
    return str(chosen or os.environ.get(VARIABLE) or written_for().get("python", ""))


def choose(path: str) -> None:
    """Keep the choice; a profile that cannot be written keeps it until the GIS is closed."""
    QgsSettings().setValue(KEY, path)
    os.environ[VARIABLE] = path


def words(*more: str) -> list[str]:
    """The words that start the program; -I keeps variables and folders of the user out."""
    return ["-I", "-m", "geoprofile", *more]


def description() -> dict[str, Any]:
    """What the installed program can do, read again when it or a package beside it has changed.

    ProgramError where there is none, or of a version that does not agree with the plugin.
    """
    path = python()
    kept = _cache(path)
    told = _kept(kept)
    if told is None:
        told = ask(path)
        with suppress(OSError):  # a profile that is read only: asked again next time
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_text(json.dumps(told), encoding="utf-8")
    return told


def ask(path: str) -> dict[str, Any]:
    """Ask the program under a Python."""
    if not Path(path).is_file():
        found = "no program set up" if not path else "no file"
        raise ProgramError(_four(path or "geoprofile", found, "the Python of its environment"))
    answer = call(path, words("describe", "--format", "json"))
    if answer.code != 0:
        raise ProgramError(_why(path, answer))
    told: dict[str, Any] = json.loads(answer.text)
    return agreed(path, told)


def agreed(path: str, told: dict[str, Any]) -> dict[str, Any]:
    """The description, if plugin and program go together; ProgramError if not."""
    form, version = told.get("description"), str(told.get("version"))
    mine = str(written_for()["version"])
    if form != FORM or _number(version) < _number(mine):
        raise ProgramError(
            f"{path}: found geoprofile {version}, expected version {mine} or one that goes with "
            f"it. Update the older of the two: the program with pip, or the plugin with "
            f"'geoprofile plugin'."
        )
    return told


def test(path: str) -> str:
    """Try a Python out; the version of the program under it. ProgramError in words."""
    return str(ask(path)["version"])


def _why(path: str, answer: Answer) -> str:
    if answer.code is None:
        return _four(path, "that it does not start", "a Python", *answer.other)
    said = answer.message
    if "No module named" in said and "geoprofile" in said:
        return _four(path, "a Python without geoprofile", "one that has it installed")
    if "no command 'describe'" in said or "describe" in said:
        return _four(path, "an older geoprofile", f"version {written_for()['version']} or later")
    return _four(path, "that the program fails", "one that answers", said)


def _four(where: str, found: str, expected: str, *more: str) -> str:
    detail = f" It said: {' '.join(more)}" if more else ""
    return f"{where}: found {found}, expected {expected}. {SET_UP}{detail}"


def _number(version: str) -> tuple[int, ...]:
    digits = ["".join(c for c in part if c.isdigit()) for part in version.split("+")[0].split(".")]
    return tuple(int(d) for d in digits if d)


def _cache(path: str) -> Path:
    name = hashlib.sha256(path.encode()).hexdigest()[:16]
    return Path(QgsApplication.qgisSettingsDirPath()) / "geoprofile" / f"{name}.json"


def _kept(file: Path) -> dict[str, Any] | None:
    """The description kept, if nothing that it was made from has changed since."""
    try:
        told: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        if all(Path(p).stat().st_mtime_ns == when for p, when in told["watch"]):
            return agreed(str(file), told)
    except (OSError, ValueError, KeyError, TypeError, ProgramError):
        pass
    return None
