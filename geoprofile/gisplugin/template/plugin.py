"""The plugin: a provider of algorithms, a dock, and a dialog to set up the environment."""

from __future__ import annotations

from typing import Any

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt

try:  # where the next Qt keeps it, then where the present one does
    from qgis.PyQt.QtGui import QAction
except ImportError:
    from qgis.PyQt.QtWidgets import QAction

from . import program
from .provider import Provider

MENU = "geoprofile"


class Plugin:
    """What the GIS starts; without windows (`iface` is None) only the provider."""

    def __init__(self, iface: Any) -> None:
        """Keep the GIS's own interface."""
        self.iface = iface
        self.provider: Any = None
        self.dock: Any = None
        self.actions: list[Any] = []

    def initProcessing(self) -> None:  # noqa: N802
        """Add the algorithms."""
        self.provider = Provider()
        QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self) -> None:  # noqa: N802
        """Add the algorithms, the dock and the menu; on a first start say what is missing."""
        from .dock import Dock

        self.initProcessing()
        self.dock = Dock(self.iface)
        self.iface.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self.dock)
        self._action("Findings and advice", lambda: self.dock.setVisible(True))
        self._action("Set up", self.set_up)
        try:
            program.description()
        except program.ProgramError as error:
            self.iface.messageBar().pushWarning("geoprofile", str(error))

    def set_up(self) -> None:
        """Open the dialog; what was chosen is there at once."""
        from .environment import EnvironmentDialog

        EnvironmentDialog(self.iface.mainWindow()).exec()
        self.provider.refreshAlgorithms()

    def unload(self) -> None:
        """Take away all that was added."""
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
        for action in self.actions:
            self.iface.removePluginMenu(MENU, action)
        if self.dock is not None:
            self.iface.removeDockWidget(self.dock)
            self.dock.deleteLater()

    def _action(self, title: str, work: Any) -> None:
        action = QAction(title, self.iface.mainWindow())
        action.triggered.connect(lambda *_: work())
        self.iface.addPluginToMenu(MENU, action)
        self.actions.append(action)
