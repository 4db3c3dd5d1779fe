"""Chooses or makes the environment in which the program lives, and tries it out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.PyQt.QtCore import QCoreApplication
from qgis.PyQt.QtWidgets import (
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from . import program
from .child import call

LEAST = (3, 11)
VERSION = "import sys; print(*sys.version_info[:2])"


def make(base: str, folder: str, wheels: str) -> str:
    """Make an environment with the program in it; the path of its Python.

    The program comes from its wheel in a folder, never from an index by its name, which there may
    be that of something else. What it needs comes from that folder too, without a network; only
    where no other wheel lies in it, from the index. ProgramError says which step failed.
    """
    answer = call(base, ["-I", "-c", VERSION])
    if answer.code != 0:
        raise program.ProgramError(f"{base}: found no Python that starts, expected 3.11 or later.")
    if tuple(map(int, answer.text.split())) < LEAST:
        found = ".".join(answer.text.split())
        raise program.ProgramError(
            f"{base}: found Python {found}, expected 3.11 or later. Choose another Python."
        )
    wheel = wheel_in(wheels)
    _step(base, ["-I", "-m", "venv", folder], "making the environment")
    python = python_in(folder)
    alone = len(list(wheel.parent.glob("*.whl"))) == 1
    source = [] if alone else ["--no-index", "--find-links", str(wheel.parent)]
    words = ["-I", "-m", "pip", "install", "--disable-pip-version-check", *source, str(wheel)]
    _step(python, words, "installing geoprofile")
    program.test(python)
    return python


def numbers_of(wheel: Path) -> list[int]:
    """The version in the name of a wheel, so that 0.10.0 comes after 0.9.0."""
    version = wheel.name.split("-")[1]
    return [int(part) for part in version.split(".") if part.isdigit()]


def wheel_in(folder: str) -> Path:
    """The wheel of the program in a folder: that of this version, or else the last of them."""
    version = str(program.written_for()["version"])
    found = sorted(Path(folder).glob("geoprofile-*.whl"), key=numbers_of) if folder else []
    if not found:
        raise program.ProgramError(
            f"{folder or 'folder of wheels'}: found no wheel of geoprofile, expected a folder "
            f"with geoprofile-{version} and all it needs. From the source of geoprofile, on a "
            "computer with a network: python -m pip wheel SOURCE -w FOLDER."
        )
    return next((w for w in found if w.name.startswith(f"geoprofile-{version}-")), found[-1])


def python_in(folder: str) -> str:
    """The Python of an environment, on any system."""
    windows = Path(folder) / "Scripts" / "python.exe"
    return str(windows if windows.exists() else Path(folder) / "bin" / "python")


def _step(python: str, words: list[str], what: str) -> None:
    answer = call(python, words, None, _keep_alive)
    if answer.code != 0:
        said = " ".join((answer.text.splitlines() + answer.other)[-3:])
        raise program.ProgramError(
            f"{what}: found that it failed, expected an environment that works. It said: {said}"
        )


def _keep_alive() -> bool:
    """Let the window be drawn meanwhile; never cancels."""
    QCoreApplication.processEvents()
    return False


class EnvironmentDialog(QDialog):
    """Three paths and three buttons."""

    def __init__(self, parent: Any = None) -> None:
        """Begin with what is set up."""
        super().__init__(parent)
        self.setWindowTitle("geoprofile: environment")
        self.python = QLineEdit(program.python())
        self.base = QLineEdit()
        self.folder = QLineEdit(str(Path.home() / "geoprofile_environment"))
        self.wheels = QLineEdit()
        self.said = QLabel()
        self.said.setWordWrap(True)
        form = QFormLayout()
        form.addRow("Python that has geoprofile", _with_button(self.python, False))
        form.addRow("", _button("Test and use it", self.use))
        form.addRow("Or a Python 3.11 or later", _with_button(self.base, False))
        form.addRow("to make an environment in", _with_button(self.folder, True))
        form.addRow("from the wheels in this folder", _with_button(self.wheels, True))
        form.addRow("", QLabel("Only the wheel of geoprofile in it: the others need a network."))
        form.addRow("", _button("Make it, test it, use it", self.make))
        column = QVBoxLayout(self)
        column.addLayout(form)
        column.addWidget(self.said)

    def use(self) -> bool:
        """Test the chosen Python and keep it; whether it works."""
        return self._tried(lambda: self.python.text())

    def make(self) -> bool:
        """Make the environment, test it and keep it; whether it works."""
        self.said.setText("This takes some minutes ...")
        return self._tried(lambda: make(self.base.text(), self.folder.text(), self.wheels.text()))

    def _tried(self, work: Any) -> bool:
        try:
            path = work()
            version = program.test(path)
        except program.ProgramError as error:
            self.said.setText(str(error))
            return False
        program.choose(path)
        self.python.setText(path)
        self.said.setText(f"geoprofile {version} answers; it is used from now on.")
        return True


def _button(title: str, work: Any) -> Any:
    button = QPushButton(title)
    button.clicked.connect(lambda *_: work())
    return button


def _with_button(line: Any, is_folder: bool) -> Any:
    """A field with a button that looks for the file or folder."""

    def look() -> None:
        if is_folder:
            found = QFileDialog.getExistingDirectory(line, "Folder", line.text())
        else:
            found = QFileDialog.getOpenFileName(line, "Python", line.text())[0]
        if found:
            line.setText(found)

    both, layout = QWidget(), QHBoxLayout()
    layout.setContentsMargins(0, 0, 0, 0)
    layout.addWidget(line)
    layout.addWidget(_button("...", look))
    both.setLayout(layout)
    return both
