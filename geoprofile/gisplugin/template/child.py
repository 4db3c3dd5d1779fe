"""The program as a child process: its environment, its lines, and how it is cancelled."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from qgis.PyQt.QtCore import QProcess, QProcessEnvironment

# what the GIS sets for its own Python and libraries, and what breaks those of the program
OWN_TO_THE_GIS = (
    "PYTHONHOME",
    "PYTHONPATH",
    "PYTHONSTARTUP",
    "PYTHONUSERBASE",
    "PYTHONEXECUTABLE",
    "VIRTUAL_ENV",
    "PROJ_LIB",
    "PROJ_DATA",
    "GDAL_DATA",
    "GDAL_DRIVER_PATH",
    "QT_PLUGIN_PATH",
    "QT_QPA_PLATFORM",
)
BEAT_MS = 100
PATIENCE_MS = 5000
START_MS = 15000
Told = Callable[[dict[str, Any]], None]


@dataclass
class Answer:
    """What a child said and how it ended; `code` is None where it could not be started."""

    code: int | None
    text: str = ""
    errors: list[dict[str, str]] = field(default_factory=list)
    other: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    tables: dict[str, list[str]] = field(default_factory=dict)
    cancelled: bool = False

    @property
    def message(self) -> str:
        """What went wrong, each problem in its four parts."""
        said = [
            f"{e['where']}: found {e['found']}, expected {e['expected']}. {e['advice']}"
            for e in self.errors
        ]
        return "\n".join(said or self.other[-12:])


def environment() -> Any:
    """The environment of the child: that of the system, without what the GIS put into it."""
    clean = QProcessEnvironment.systemEnvironment()
    for name in OWN_TO_THE_GIS:
        clean.remove(name)
    clean.insert("PYTHONUTF8", "1")
    return clean


def call(
    python: str,
    words: Sequence[str],
    told: Told | None = None,
    is_cancelled: Callable[[], bool] | None = None,
    folder: str = "",
) -> Answer:
    """Run Python with these words to its end, or until it is cancelled."""
    if not Path(python).is_file():
        return Answer(None)
    process = QProcess()
    process.setProcessEnvironment(environment())
    if folder:
        process.setWorkingDirectory(folder)
    process.start(python, list(words))
    if not process.waitForStarted(START_MS):
        return Answer(None, other=[process.errorString()])
    process.closeWriteChannel()
    answer, rest = Answer(None), b""
    out: list[bytes] = []
    while process.state() != QProcess.ProcessState.NotRunning:
        process.waitForFinished(BEAT_MS)
        out.append(bytes(process.readAllStandardOutput()))
        rest = _read(rest + bytes(process.readAllStandardError()), answer, told)
        if is_cancelled is not None and is_cancelled() and not answer.cancelled:
            answer.cancelled = True
            process.terminate()
            if not process.waitForFinished(PATIENCE_MS):
                process.kill()
    out.append(bytes(process.readAllStandardOutput()))
    _read(rest + bytes(process.readAllStandardError()) + b"\n", answer, told)
    answer.text = b"".join(out).decode("utf-8", "replace")
    crashed = process.exitStatus() != QProcess.ExitStatus.NormalExit
    answer.code = -1 if crashed else process.exitCode()
    return answer


def _read(data: bytes, answer: Answer, told: Told | None) -> bytes:
    """Take whole lines; what is left of the last one."""
    *lines, rest = data.split(b"\n")
    for line in lines:
        _take(line.decode("utf-8", "replace").strip(), answer, told)
    return rest


def _take(line: str, answer: Answer, told: Told | None) -> None:
    try:
        parts = json.loads(line) if line.startswith("{") else None
    except ValueError:
        parts = None
    if not isinstance(parts, dict):
        if line:
            answer.other.append(line)
        return
    answer.errors += parts.get("error", [])
    answer.files += parts.get("files", [])
    answer.tables.update(parts.get("tables", {}))
    if told is not None:
        told(parts)
