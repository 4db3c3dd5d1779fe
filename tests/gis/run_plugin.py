"""In the desktop GIS: load the plugin from a folder and do what a list of steps says.

Run by the system's Python: run_plugin.py FOLDER STEPS.json. A step is ["run", command, values],
["cancel", command, values, seconds], ["open", file, table], ["see"], ["program", python],
["kept", python, watched file, file with its calls], ["dock"], ["zoom", project, rows],
["compute", project, seconds until it is cancelled or nothing, new title or nothing] or
["environment", base, folder, wheels]. Prints what each gave, as JSON.
"""

import json
import os
import sys
import tempfile
import time

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp())
from qgis.core import (
    QgsApplication,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)
from qgis.PyQt.QtWidgets import QTableWidgetItem

LONGEST_S = 1800.0  # a computation that takes longer hangs
FOLDER, STEPS = sys.argv[1:]
app = QgsApplication([], True)
QgsApplication.initQgis()
sys.path.insert(0, FOLDER)
import geoprofile_plugin  # noqa: E402
from geoprofile_plugin import environment, program  # noqa: E402
from geoprofile_plugin.dock import Dock  # noqa: E402

plugin = geoprofile_plugin.classFactory(None)
plugin.initProcessing()


class Feedback(QgsProcessingFeedback):
    """Keeps what is said, and cancels after a time."""

    def __init__(self, seconds=None):
        super().__init__(False)
        self.errors, self.told, self.percents = [], [], []
        self.until = None if seconds is None else time.monotonic() + seconds
        self.progressChanged.connect(self.percents.append)

    # names of methods are those of the GIS
    def isCanceled(self):
        return self.until is not None and time.monotonic() > self.until

    def reportError(self, error, fatalError=False):
        self.errors.append(error)

    def pushInfo(self, text):
        self.told.append(text)

    def pushConsoleInfo(self, text):
        self.told.append(text)


def run(command, values, seconds=None):
    algorithm = QgsApplication.processingRegistry().createAlgorithmById(f"geoprofile:{command}")
    context, feedback = QgsProcessingContext(), Feedback(seconds)
    context.setProject(QgsProject.instance())
    begun = time.monotonic()
    if algorithm is None:
        return {"done": False, "errors": ["no such algorithm"]}
    possible, why = algorithm.checkParameterValues(values, context)
    if not possible:
        return {"done": False, "errors": [why]}
    results, done = algorithm.run(values, context, feedback)
    return {
        "done": done,
        "results": {k: str(v) for k, v in results.items()},
        "errors": feedback.errors,
        "told": feedback.told,
        "percents": len(feedback.percents),
        "seconds": time.monotonic() - begun,
    }


def form(command):
    algorithm = QgsApplication.processingRegistry().algorithmById(f"geoprofile:{command}")
    return {p.name(): [p.type(), p.description()] for p in algorithm.parameterDefinitions()}


def opened(path, table):
    layer = QgsVectorLayer(f"{path}|layername={table}", f"my {table}", "ogr")
    layer.setOpacity(0.25)
    QgsProject.instance().addMapLayer(layer)
    return layer.featureCount()


def seen():
    root = QgsProject.instance().layerTreeRoot()
    layers = [node.layer() for node in root.findLayers()]
    return [[x.name(), x.featureCount(), x.opacity()] for x in layers]


def use(python):
    os.environ["GEOPROFILE_PYTHON"] = python
    try:
        return program.test(python)
    except program.ProgramError as error:
        return str(error)


def kept(python, watched, calls):
    """How often the program was asked what it can do: at once, again, after a change."""
    os.environ["GEOPROFILE_PYTHON"] = python
    asked = []
    for moment in (1, 1, 2):
        os.utime(watched, (moment, moment))
        program.description()
        with open(calls, encoding="utf-8") as lines:
            asked.append(len(lines.readlines()))
    return asked


def dock():
    made = Dock(None)
    made.refresh()
    rows = made.findings.rowCount()
    found = [made.zoom(i) for i in range(rows)]
    what = [made.findings.item(i, 1).text() for i in range(rows)]
    made.advice.selectRow(0)
    task = made.plan()
    until = time.monotonic() + 120
    while task is not None and task.isActive() and time.monotonic() < until:
        QgsApplication.processEvents()
    return {
        "findings": list(map(list, zip(what, found))),  # noqa: B905  the GIS's Python may be old
        "advice": made.advice.rowCount(),
        "planned": task is not None,
        "said": made.said.text(),
    }


def compute(project, seconds, name=None):
    """The button of the dock, with the project open: layers before and after, what is said."""
    opened = QgsProject.instance()
    assert opened.read(project)
    if name is not None:
        opened.setTitle(name)
        opened.setDirty(True)
    made, before, begun = Dock(None), len(opened.mapLayers()), time.monotonic()
    made.compute()
    again = made.compute()
    while made.task is not None and time.monotonic() < begun + LONGEST_S:
        QgsApplication.processEvents()
        if seconds is not None and time.monotonic() > begun + seconds:
            made.cancel()
            seconds = None
    invalid = [x.name() for x in opened.mapLayers().values() if not x.isValid()]
    return {
        "before": before,
        "after": len(opened.mapLayers()),
        "invalid": invalid,
        "twice": again is not None,
        "said": made.said.text(),
        "busy": made.task is not None,
    }


def zoom(project, rows):
    """Which rows are selected after a double click on findings about these rows."""
    assert QgsProject.instance().read(project)
    made = Dock(None)
    answers = []
    for row in rows:
        made.findings.setRowCount(1)
        for place, text in enumerate(["note", *row], 0):
            made.findings.setItem(0, place, QTableWidgetItem(text))
        if not made.zoom(0):
            answers.append(None)
            continue
        for layer in QgsProject.instance().mapLayers().values():
            if layer.isSpatial() and layer.selectedFeatureCount():
                names = sorted(str(f.attribute(1)) for f in layer.selectedFeatures())
                answers.append([layer.name(), names])
                layer.removeSelection()
    return answers


def make(base, folder, wheels):
    try:
        return environment.make(base, folder, wheels)
    except program.ProgramError as error:
        return str(error)


def step(kind, *words):
    if kind == "cancel":
        return run(*words)
    return {
        "run": run,
        "form": form,
        "open": opened,
        "see": seen,
        "program": use,
        "dock": dock,
        "kept": kept,
        "zoom": zoom,
        "compute": compute,
        "environment": make,
    }[kind](*words)


with open(STEPS, encoding="utf-8") as file:
    print("ANSWER" + json.dumps([step(*words) for words in json.load(file)]))
sys.stdout.flush()
os._exit(0)  # the GIS may stumble while it is taken down
