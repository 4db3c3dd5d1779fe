"""In the desktop GIS: open a project, say what it holds, and print its pages.

Run by the system's Python, which has the GIS: open_project.py PROJECT [FOLDER FOR PICTURES].
PROJECT is a file, or `geopackage:FILE?projectName=NAME`. Prints JSON.
"""

import json
import os
import sys
import tempfile

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp())
from qgis.core import (
    QgsApplication,
    QgsLayerTree,
    QgsLayerTreeModel,
    QgsLayoutExporter,
    QgsLegendRenderer,
    QgsLegendSettings,
    QgsMapRendererParallelJob,
    QgsProject,
)
from qgis.gui import QgsAttributeEditorContext, QgsAttributeForm, QgsGui
from qgis.PyQt.QtCore import QSizeF

DPI = 150


def main():
    application = QgsApplication([], True)
    QgsApplication.setPrefixPath("/usr", True)
    application.initQgis()
    QgsGui.editorWidgetRegistry().initEditors()
    project = QgsProject.instance()
    told = {
        "read": project.read(sys.argv[1]),
        "title": project.title(),
        "crs": project.crs().authid(),
    }
    layers = project.mapLayers()
    told["invalid"] = [m.name() for m in layers.values() if not m.isValid()]
    root = project.layerTreeRoot()
    told["groups"] = [g.name() for g in root.children() if QgsLayerTree.isGroup(g)]
    told["layers"] = {
        key: {
            "name": m.name(),
            "source": m.source(),
            "count": m.featureCount(),
            "read_only": m.readOnly(),
            "crs": m.crs().authid() or m.crs().description(),
            "shown": root.findLayer(key).isVisible(),
            "rules": [i.label() for i in m.renderer().legendSymbolItems()] if m.renderer() else [],
            "widgets": sorted({m.editorWidgetSetup(i).type() for i in range(m.fields().count())}),
        }
        for key, m in layers.items()
    }
    told["relations"] = {
        key: {"valid": r.isValid(), "children": children_of(r)}
        for key, r in project.relationManager().relations().items()
    }
    told["themes"] = {
        name: project.mapThemeCollection().mapThemeVisibleLayerIds(name)
        for name in project.mapThemeCollection().mapThemes()
    }
    told["legend_mm"] = legend_height(project)
    told["layouts"] = [x.name() for x in project.layoutManager().printLayouts()]
    told["order"] = [m.id() for m in root.layerOrder()]
    told["form"] = form_of(project)
    if len(sys.argv) > 2:
        told["labels"] = labels_of(project)
        told["pictures"] = pictures(project, sys.argv[2])
    print("ANSWER" + json.dumps(told))
    sys.stdout.flush()


def children_of(relation):
    """Rows that belong to the first row of the other table."""
    if not relation.isValid():
        return None
    first = next(relation.referencedLayer().getFeatures(), None)
    return None if first is None else len(list(relation.getRelatedFeatures(first)))


def legend_height(project):
    """Height of the legend of what is shown [mm]."""
    tree = project.layerTreeRoot().clone()
    for layer in tree.findLayers():
        if not project.layerTreeRoot().findLayer(layer.layerId()).isVisible():
            layer.parent().removeChildNode(layer)
    tree.removeChildrenGroupWithoutLayers()
    model = QgsLayerTreeModel(tree)
    return QgsLegendRenderer(model, QgsLegendSettings()).minimumSize().height()


def labels_of(project):
    """Each label on the plan as it is printed: its words, its layer, its box in map units."""
    layout = project.layoutManager().layoutByName("Plan")
    if layout is None:
        return []
    page_map = layout.referenceMap()
    inches = page_map.rect().width() / 25.4, page_map.rect().height() / 25.4
    size = QSizeF(inches[0] * DPI, inches[1] * DPI)
    job = QgsMapRendererParallelJob(page_map.mapSettings(page_map.extent(), size, DPI, True))
    job.start()
    job.waitForFinished()
    return [
        [x.labelText, x.layerID, [r.xMinimum(), r.yMinimum(), r.xMaximum(), r.yMaximum()]]
        for x in job.takeLabelingResults().labelsWithinRect(page_map.extent())
        for r in [x.labelRect]
    ]


def form_of(project):
    """Whether a row of a table with a parent can be opened and saved unchanged in the project."""
    layer = project.mapLayer("geoprofile_interval")
    feature = next(layer.getFeatures(), None)
    if feature is None:
        return None
    form = QgsAttributeForm(layer, feature, QgsAttributeEditorContext())
    return form.save()


def pictures(project, folder):
    made = []
    for layout in project.layoutManager().printLayouts():
        exporter = QgsLayoutExporter(layout)
        settings = QgsLayoutExporter.ImageExportSettings()
        settings.dpi = 110
        atlas = layout.atlas()
        if not atlas.enabled():
            path = f"{folder}/{layout.name()}.png"
            made.append([path, exporter.exportToImage(path, settings)])
            continue
        atlas.beginRender()
        for number in range(min(2, atlas.updateFeatures())):
            atlas.seekTo(number)
            path = f"{folder}/{layout.name()} {number + 1}.png"
            made.append([path, QgsLayoutExporter(layout).exportToImage(path, settings)])
        atlas.endRender()
    return made


main()
os._exit(0)  # the GIS may stumble while it is taken down
