"""In the desktop GIS: open rows in their forms, change one cell, save; what the file then holds.

Run by the system's Python, which has the GIS: edit_forms.py FILE [LOCALE]. Prints JSON per table:
`wrong` (cells that changed though nobody touched them, rows that were refused), `edited`,
`widgets` by column, `offered` values of each list, `refused` (a value beyond a limit was not
saved), `required` and `unique` columns as the form knows them.
"""

import json
import os
import sqlite3
import sys
import tempfile

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp())
from qgis.core import (
    QgsApplication,
    QgsFieldConstraints,
    QgsProject,
    QgsVectorLayer,
)
from qgis.gui import (
    QgsAttributeEditorContext,
    QgsAttributeForm,
    QgsGui,
)
from qgis.PyQt.QtCore import QLocale
from qgis.PyQt.QtWidgets import QComboBox

ROWS = 3
BEYOND = {"test": ("kv_kh", 20.0), "borehole": ("ground_elevation_m", 9999.5)}


def tables(path):
    with sqlite3.connect(path) as connection:
        return [
            row[0]
            for row in connection.execute(
                "SELECT f_table_name FROM layer_styles WHERE styleQML LIKE '%fieldConfiguration%'"
            )
        ]


def stored(path, table, number):
    """A row as the file holds it, to the last bit."""
    connection = sqlite3.connect(path)
    connection.row_factory = sqlite3.Row
    row = connection.execute(f'SELECT * FROM "{table}" WHERE fid = ?', (number,)).fetchone()
    connection.close()
    return dict(row)


def plain(value):
    return None if value is None or str(value) == "NULL" else value


def form_of(layer, number):
    return QgsAttributeForm(layer, layer.getFeature(number), QgsAttributeEditorContext())


def edit_of(layer):
    """The column to change and how: a text, else a number."""
    kinds = {f.name(): f.typeName() for f in layer.fields()}
    widgets = {f.name(): layer.editorWidgetSetup(i).type() for i, f in enumerate(layer.fields())}
    texts = [n for n, k in kinds.items() if k == "String" and widgets[n] == "TextEdit"]
    for name in ("remarks", *reversed(texts[1:])):
        if name in kinds:
            return name, 'it\'s "changed" ü'
    numbers = [n for n, k in kinds.items() if k == "Real"]
    return (numbers[-1], 12.5) if numbers else (texts[-1], "changed {}")


def try_table(path, table):
    layer = QgsVectorLayer(f"{path}|layername={table}", table, "ogr")
    QgsProject.instance().addMapLayer(layer, False)
    told = {"wrong": [], "edited": [], "widgets": {}, "offered": {}, "refused": None}
    fields = layer.fields()
    told["required"], told["unique"] = [], []
    for place, field in enumerate(fields):
        told["widgets"][field.name()] = layer.editorWidgetSetup(place).type()
        rules = layer.fieldConstraints(place)
        if rules & QgsFieldConstraints.ConstraintNotNull:
            told["required"].append(field.name())
        if rules & QgsFieldConstraints.ConstraintUnique:
            told["unique"].append(field.name())
    column, value = edit_of(layer)
    for number in [f.id() for f in layer.getFeatures()][:ROWS]:
        before = stored(path, table, number)
        layer.startEditing()
        form = form_of(layer, number)
        for box in form.findChildren(QComboBox):
            if box.objectName() in before:
                told["offered"][box.objectName()] = [box.itemText(i) for i in range(box.count())]
        wanted = value.format(number) if isinstance(value, str) else value
        form.changeAttribute(column, wanted)
        if not form.save() or not layer.commitChanges():
            told["wrong"].append(f"row {number} was refused: {layer.commitErrors()}")
            layer.rollBack()
            continue
        after = stored(path, table, number)
        told["wrong"] += [
            f"row {number}: {name} from {before[name]!r} to {after[name]!r}"
            for name in before
            if name != column and before[name] != after[name]
        ]
        told["edited"].append([column, wanted, after[column]])
    if table in BEYOND:
        told["refused"] = beyond(path, layer, *BEYOND[table])
    return told


def beyond(path, layer, column, value):
    """Whether a value beyond its limit stays out of the file."""
    number = next(layer.getFeatures()).id()
    before = stored(path, layer.name(), number)
    layer.startEditing()
    form = form_of(layer, number)
    form.changeAttribute(column, value)
    form.save()
    layer.commitChanges()
    layer.rollBack()
    return before[column] == stored(path, layer.name(), number)[column]


def main():
    path, locale = sys.argv[1], (sys.argv[2:] or ["C"])[0]
    QLocale.setDefault(QLocale(locale))
    application = QgsApplication([], True)
    QgsApplication.setPrefixPath("/usr", True)
    application.initQgis()
    QLocale.setDefault(QLocale(locale))
    QgsGui.editorWidgetRegistry().initEditors()
    alone = sys.argv[3:]
    print("ANSWER" + json.dumps({t: try_table(path, t) for t in alone or tables(path)}))
    sys.stdout.flush()


main()
os._exit(0)  # the GIS may stumble while it is taken down
