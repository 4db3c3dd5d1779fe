"""In the desktop GIS: open projects, give them another title, save them.

Run by the system's Python, which has the GIS: save_project.py TITLE PROJECT.... Prints whether each
was saved; with an empty title nothing is saved, and the titles are printed.
"""

import json
import os
import sys
import tempfile

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp())
from qgis.core import QgsApplication, QgsProject


def main():
    application = QgsApplication([], False)
    QgsApplication.setPrefixPath("/usr", True)
    application.initQgis()
    project = QgsProject.instance()
    title, told = sys.argv[1], []
    for place in sys.argv[2:]:
        done = project.read(place)
        if title:
            project.setTitle(title)
            told.append(done and project.write())
        else:
            told.append(project.title())
    print("ANSWER" + json.dumps(told))
    sys.stdout.flush()


main()
os._exit(0)  # the GIS may stumble while it is taken down
