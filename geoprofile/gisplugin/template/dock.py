"""What was found and what is advised, beside the map."""

from __future__ import annotations

import json
from typing import Any

from qgis.core import (
    QgsApplication,
    QgsProcessingAlgRunnerTask,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
)
from qgis.PyQt.QtWidgets import (
    QDockWidget,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from . import program
from .child import call
from .forms import site_file
from .reload import show_new
from .whereabouts import find

FINDINGS = ("severity", "source_table", "row_key", "what", "what_to_do")
ADVICE = ("rank", "borehole", "top_m", "bottom_m", "quantity", "reason")
CAUTION = (
    "Advice supports a qualified person's judgement and does not replace it: local codes, the "
    "makers' limits and licensed practice come first; check for utilities before any drilling."
)


class Dock(QDockWidget):
    """Findings that lead to their rows, proposed tests with their plan, and the button compute."""

    def __init__(self, iface: Any) -> None:
        """Lay out the dock and fill it from the project that is open."""
        super().__init__("geoprofile", iface.mainWindow() if iface else None)
        self.setObjectName("geoprofile_dock")
        self.iface = iface
        self.said = QLabel(CAUTION)
        self.said.setWordWrap(True)
        self.bar = QProgressBar()
        self.bar.setVisible(False)
        self.task: Any = None
        self.findings = _table(FINDINGS)
        self.advice = _table(ADVICE)
        self.findings.cellDoubleClicked.connect(lambda row, _: self.zoom(row))
        body, column = QWidget(), QVBoxLayout()
        buttons = ("Compute", self.compute), ("Cancel", self.cancel), ("Refresh", self.refresh)
        column.addLayout(_row(*buttons))
        column.addWidget(self.bar)
        column.addWidget(QLabel("Findings (a double click zooms to the row)"))
        column.addWidget(self.findings)
        column.addWidget(QLabel("Next tests"))
        column.addWidget(self.advice)
        column.addLayout(_row(("Plan this test", self.plan)))
        column.addWidget(self.said)
        body.setLayout(column)
        self.setWidget(body)
        QgsProject.instance().readProject.connect(lambda *_: self.refresh())

    def refresh(self) -> None:
        """Read the lists again."""
        path = site_file()
        for table, name, columns in (
            (self.findings, "finding", FINDINGS),
            (self.advice, "next_test", ADVICE),
        ):
            _fill(table, columns, rows(path, name) if path else [])

    def compute(self) -> Any:
        """Load what changed and compute what is stale, in the background."""
        path = site_file()
        return self._start("run", {"folder": path.rpartition("/")[0]} if path else None)

    def cancel(self) -> None:
        """End what was started here; the site file stays whole."""
        if self.task is not None:
            self.said.setText("Cancelling ...")
            self.task.cancel()

    def plan(self) -> Any:
        """The field plan of the proposed test that is chosen."""
        path, row = site_file(), self.advice.currentRow()
        rank = self.advice.item(row, 0).text() if row >= 0 else ""
        folder = f"{path.rpartition('/')[0]}/plan of test {rank}" if path else ""
        return self._start(
            "plan", {"site": path, "advised": rank, "folder": folder} if path and rank else None
        )

    def zoom(self, row: int) -> bool:
        """Show where the row of a finding lies: itself, or its borehole; whether there was one."""
        place = find(*(self.findings.item(row, i).text() for i in (1, 2)))
        if place is None:
            return False
        layer, found = place
        layer.selectByIds(found)
        if self.iface is not None:
            self.iface.mapCanvas().zoomToSelected(layer)
        return True

    def _start(self, command: str, values: dict[str, Any] | None) -> Any:
        algorithm = QgsApplication.processingRegistry().algorithmById(f"geoprofile:{command}")
        if algorithm is None or values is None:
            self.said.setText("Open the project of a site, and choose a proposed test to plan.")
            return None
        if self.task is not None:
            self.said.setText("Something that was started here still runs: wait, or cancel it.")
            return None
        self.context, self.feedback = QgsProcessingContext(), QgsProcessingFeedback()
        self.context.setProject(QgsProject.instance())
        task = QgsProcessingAlgRunnerTask(algorithm, values, self.context, self.feedback)
        task.executed.connect(self._ended)
        task.taskTerminated.connect(self._free)  # also one that was cancelled before it began
        task.progressChanged.connect(lambda percent: self.bar.setValue(int(percent)))
        self.task = task
        self.bar.setValue(0)
        self.bar.setVisible(True)
        self.said.setText(f"{command} ...")
        QgsApplication.taskManager().addTask(task)
        return task

    def _free(self) -> None:
        self.task = None
        self.bar.setVisible(False)

    def _ended(self, is_done: bool, results: dict[str, Any]) -> None:
        self._free()
        log = self.feedback.textLog().strip().splitlines()
        path = site_file()
        new = show_new(path) if is_done and path else ""
        self.refresh()
        told = [*log[-1:], new, CAUTION] if is_done else log[-3:] or ["Stopped."]
        self.said.setText("\n".join(words for words in told if words))


def rows(path: str, table: str) -> list[dict[str, Any]]:
    """Rows of a table of the site file, as the program prints them."""
    words = program.words("show", path, table, "--format", "json")
    answer = call(program.python(), words)
    return json.loads(answer.text) if answer.code == 0 else []


def _table(columns: tuple[str, ...]) -> Any:
    table = QTableWidget(0, len(columns))
    table.setHorizontalHeaderLabels([c.replace("_", " ") for c in columns])
    table.setSelectionBehavior(QTableWidget.SelectionBehavior.SelectRows)
    table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
    return table


def _fill(table: Any, columns: tuple[str, ...], found: list[dict[str, Any]]) -> None:
    table.setRowCount(len(found))
    for i, row in enumerate(found):
        for j, name in enumerate(columns):
            value = row.get(name)
            table.setItem(i, j, QTableWidgetItem("" if value is None else str(value)))


def _row(*buttons: tuple[str, Any]) -> Any:
    line = QHBoxLayout()
    for title, work in buttons:
        button = QPushButton(title)
        button.clicked.connect(lambda *_, work=work: work())
        line.addWidget(button)
    return line
