"""The plugin's windows and child processes with the next Qt, for which no GIS is to be had here.

Run by a Python that has PyQt6: next_qt_plugin.py PLUGIN PYTHON. Qt is the real one; of the GIS only
what the windows ask for stands in. Prints names that Qt does not have, and what the windows did.
"""

import ast
import importlib
import json
import os
import sys
import tempfile
import types
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp())
from PyQt6 import QtCore, QtGui, QtWidgets

PLUGIN, PYTHON = Path(sys.argv[1]), sys.argv[2]
QT = "qgis.PyQt."


def unknown_names(file):
    """Names of Qt in a file, with what is asked of them, that this Qt does not have."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    first_choice, homes, found = set(), {}, []
    for node in ast.walk(tree):
        if isinstance(node, ast.Try):  # the first import is that of this Qt
            first_choice |= {id(n) for h in node.handlers for n in ast.walk(h)}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(QT):
            if id(node) in first_choice:
                continue
            module = importlib.import_module("PyQt6." + node.module[len(QT) :])
            for name in (a.name for a in node.names):
                homes[name] = getattr(module, name, None)
                found += [] if homes[name] is not None else [f"{node.module}.{name}"]
    for node in ast.walk(tree):
        words = []
        while isinstance(node, ast.Attribute):
            words.insert(0, node.attr)
            node = node.value
        if words and isinstance(node, ast.Name) and homes.get(node.id) is not None:
            place = homes[node.id]
            for word in words:
                place = getattr(place, word, None)
            found += [] if place is not None else [".".join([node.id, *words])]
    return found


class Anything(type):
    """A class of the GIS that has every name, of which the windows use none."""

    def __getattr__(cls, word):
        return Anything(word, (), {})


def stand_in(name, **members):
    """A module of the GIS with these members, and an empty class for any other name."""
    module = types.ModuleType(name)
    module.__dict__.update(members)
    module.__getattr__ = lambda word: Anything(word, (), {})
    sys.modules[name] = module
    return module


class Settings(QtCore.QSettings):
    """The GIS's own settings have the same methods as those of Qt."""

    def __init__(self):
        super().__init__(str(Path(tempfile.gettempdir()) / f"{os.getpid()}.ini"), FORMAT)


class Project(QtCore.QObject):
    """A project without layers, which tells when another is read."""

    readProject = QtCore.pyqtSignal()  # noqa: N815  the GIS's name
    one = None

    @classmethod
    def instance(cls):
        cls.one = cls.one or cls()
        return cls.one

    def mapLayers(self):
        return {}


class Registry:
    """Takes algorithms and tasks."""

    @staticmethod
    def processingRegistry():
        return types.SimpleNamespace(
            addProvider=lambda one: None,
            removeProvider=lambda one: None,
            algorithmById=lambda name: None,
        )

    @staticmethod
    def qgisSettingsDirPath():
        return tempfile.mkdtemp()


class Window(QtWidgets.QMainWindow):
    """The window of the GIS, as a plugin sees it."""

    def mainWindow(self):
        return self

    def messageBar(self):
        return types.SimpleNamespace(pushWarning=lambda *words: print(*words, file=sys.stderr))

    def addPluginToMenu(self, menu, action):
        self.menuBar().addAction(action)

    def removePluginMenu(self, menu, action):
        self.menuBar().removeAction(action)


FORMAT = QtCore.QSettings.Format.IniFormat
app = QtWidgets.QApplication([])
stand_in("qgis")
stand_in("qgis.PyQt")
for part in (QtCore, QtGui, QtWidgets):
    sys.modules[QT + part.__name__.split(".")[1]] = part
stand_in("qgis.core", QgsSettings=Settings, QgsProject=Project, QgsApplication=Registry)
sys.path.insert(0, str(PLUGIN.parent))
package = importlib.import_module(PLUGIN.name)
program = importlib.import_module(PLUGIN.name + ".program")
environment = importlib.import_module(PLUGIN.name + ".environment")
dock = importlib.import_module(PLUGIN.name + ".dock")

window = Window()
plugin = package.classFactory(window)
plugin.initGui()
for action in plugin.actions[:1]:
    action.trigger()
dialog = environment.EnvironmentDialog(window)
dialog.python.setText(PYTHON)
QtCore.QTimer.singleShot(0, dialog.accept)
told = {
    "unknown": [n for file in sorted(PLUGIN.glob("*.py")) for n in unknown_names(file)],
    "dialog": dialog.exec(),
    "used": dialog.use(),
    "said": dialog.said.text(),
    "python": program.python(),
    "advice": plugin.dock.compute(),
    "dock": plugin.dock.said.text(),
}
dock._fill(plugin.dock.findings, dock.FINDINGS, [{"severity": "note", "row_key": "A1"}])
plugin.dock.findings.selectRow(0)
told["filled"] = plugin.dock.findings.item(0, 2).text()
answer = program.call(
    sys.executable, ["-I", "-c", "import time; time.sleep(60)"], None, lambda: True
)
told["cancelled"] = [answer.cancelled, answer.code != 0]
plugin.unload()
print("ANSWER" + json.dumps(told))
sys.stdout.flush()
os._exit(0)
