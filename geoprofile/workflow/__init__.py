"""One function per command: read, compute, write once, say what was done."""

from geoprofile.workflow.deriving import derive
from geoprofile.workflow.drawing import (
    draw_advice,
    draw_map,
    draw_sections,
    draw_tests,
)
from geoprofile.workflow.drawing_discharge import draw_discharge
from geoprofile.workflow.history import Comparison, compare, history
from geoprofile.workflow.inspecting import Seen, inspect_file
from geoprofile.workflow.loading import create, load
from geoprofile.workflow.looking import check, open_site, plain_rows, read, show
from geoprofile.workflow.outcome import Outcome, silent
from geoprofile.workflow.planning import plan
from geoprofile.workflow.running import run, run_folder
from geoprofile.workflow.temperature import at_temperature
from geoprofile.workflow.upkeep import migrate, restore, safety_copies

__all__ = [
    "Comparison",
    "Outcome",
    "Seen",
    "at_temperature",
    "check",
    "compare",
    "create",
    "derive",
    "draw_advice",
    "draw_discharge",
    "draw_map",
    "draw_sections",
    "draw_tests",
    "history",
    "inspect_file",
    "load",
    "migrate",
    "open_site",
    "plain_rows",
    "plan",
    "read",
    "restore",
    "run",
    "run_folder",
    "safety_copies",
    "show",
    "silent",
]
