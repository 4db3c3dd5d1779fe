"""One command of the program as an algorithm of the GIS; there is no code per command."""

from __future__ import annotations

import html
from typing import Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingOutputString,
)

from . import program
from .child import call
from .forms import parameter, words_of
from .reload import reload_tables

TEXT, FILES = "said", "made"
BESIDE_THE_FORM = ("quiet", "verbose")  # the log of the GIS has all remarks


class CommandAlgorithm(QgsProcessingAlgorithm):
    """A command: its form from its description, its work in a child process."""

    def __init__(self, command: dict[str, Any]) -> None:
        """Take the description of the command."""
        super().__init__()
        self.command = command
        self.options = [o for o in command["options"] if o["name"] not in BESIDE_THE_FORM]
        self.tables: dict[str, list[str]] = {}

    def createInstance(self) -> CommandAlgorithm:  # noqa: N802
        """One more of it."""
        return CommandAlgorithm(self.command)

    def name(self) -> str:
        """By what it is called."""
        return "_".join(self.command["words"])

    def displayName(self) -> str:  # noqa: N802
        """As it stands in the list."""
        return f"{' '.join(self.command['words'])}: {self.command['summary'].rstrip('.')}"

    def shortHelpString(self) -> str:  # noqa: N802
        """What the command says of itself."""
        tables = ", ".join(self.command["tables"])
        more = f"\n\nTables that it computes: {tables}." if tables else ""
        return html.escape(self.command["help"] + more).replace("\n", "<br>")

    def initAlgorithm(self, configuration: Any = None) -> None:  # noqa: N802
        """The form."""
        for option in self.options:
            self.addParameter(parameter(option))
        self.addOutput(QgsProcessingOutputString(TEXT, "What it printed"))
        self.addOutput(QgsProcessingOutputString(FILES, "Files that it made"))

    def processAlgorithm(self, parameters: Any, context: Any, feedback: Any) -> Any:  # noqa: N802
        """Run the command."""
        try:
            program.description()
        except program.ProgramError as error:
            raise QgsProcessingException(str(error)) from None
        values = {o["name"]: self._value(o, parameters, context) for o in self.options}
        flags = [w for o in self.options if o["flag"] for w in words_of(o, values[o["name"]])]
        rest = [w for o in self.options if not o["flag"] for w in words_of(o, values[o["name"]])]
        words = [*flags, "--", *rest]
        words = program.words(*self.command["words"], "--progress", "json", *words)
        feedback.pushCommandInfo("geoprofile " + " ".join(words[3:]))

        def told(line: dict[str, Any]) -> None:
            if "percent" in line:
                feedback.setProgress(line["percent"])
                feedback.setProgressText(line["step"])
            elif "remark" in line:
                feedback.pushInfo(line["remark"])

        answer = call(program.python(), words, told, feedback.isCanceled, self._folder(values))
        self.tables = answer.tables
        if answer.cancelled:
            raise QgsProcessingException("Cancelled: nothing half-done was stored.")
        if answer.code != 0 and (answer.errors or not answer.text):
            raise QgsProcessingException(answer.message or f"Ended with code {answer.code}.")
        for line in answer.other:
            feedback.pushInfo(line)
        if answer.code != 0:
            feedback.pushWarning(f"It ended with code {answer.code}: see what it printed.")
        for line in answer.text.splitlines():
            feedback.pushConsoleInfo(line)
        return {**self._made(values), TEXT: answer.text, FILES: "\n".join(answer.files)}

    def postProcessAlgorithm(self, context: Any, feedback: Any) -> Any:  # noqa: N802
        """Show what changed; styles and order of the layers stay."""
        for name in reload_tables(self.tables):
            feedback.pushInfo(f"reloaded: {name}")
        return {}

    def _value(self, option: dict[str, Any], parameters: Any, context: Any) -> Any:
        name, kind = option["name"], option["kind"]
        given = parameters.get(name)
        if given in (None, "", QgsProcessing.TEMPORARY_OUTPUT) and not option["required"]:
            return None
        if kind == "yes or no":
            return self.parameterAsBoolean(parameters, name, context)
        if kind == "choice":
            return self.parameterAsEnumString(parameters, name, context)
        if kind in ("number", "whole number") and not option["several"]:
            is_whole = kind == "whole number"
            take = self.parameterAsInt if is_whole else self.parameterAsDouble
            return take(parameters, name, context)
        if kind in ("file", "folder") and option.get("is_made"):
            return self.parameterAsFileOutput(parameters, name, context)
        if kind in ("file", "folder") and not option["several"]:
            return self.parameterAsFile(parameters, name, context)
        if kind == "either":
            return given if isinstance(given, list) else [str(given)]
        return self.parameterAsString(parameters, name, context)

    def _folder(self, values: dict[str, Any]) -> str:
        """Where the command works: the folder of the first file or folder that it reads."""
        for option in self.options:
            value = values[option["name"]]
            if value and option["kind"] == "file" and not option.get("is_made"):
                return str(value).replace("\\", "/").rpartition("/")[0]
        return ""

    def _made(self, values: dict[str, Any]) -> dict[str, Any]:
        return {
            o["name"]: values[o["name"]]
            for o in self.options
            if o.get("is_made") and values[o["name"]] is not None
        }
