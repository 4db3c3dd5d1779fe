"""All commands of the installed program, as algorithms."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import QgsProcessingProvider
from qgis.PyQt.QtGui import QIcon

from . import program
from .algorithm import CommandAlgorithm

OF_A_SHELL = ("completion",)  # has no use in a form


class Provider(QgsProcessingProvider):
    """Reads the description each time the list is made, so that nothing is ever behind."""

    def id(self) -> str:
        """By what scripts call it."""
        return "geoprofile"

    def name(self) -> str:
        """As it stands in the toolbox."""
        return "geoprofile"

    def icon(self) -> Any:
        """A borehole with packers."""
        return QIcon(str(Path(__file__).parent / "icon.svg"))

    def loadAlgorithms(self) -> None:  # noqa: N802
        """One for each command; without a program, those it was written for, which then say why."""
        try:
            told = program.description()
        except program.ProgramError:
            told = program.written_for()
        for command in told["commands"]:
            if command["words"][0] not in OF_A_SHELL:
                self.addAlgorithm(CommandAlgorithm(command))
