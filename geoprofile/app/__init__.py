"""One function per command: read, compute, write once, say what was done."""

from geoprofile.app.composing import compose
from geoprofile.app.deriving import derive
from geoprofile.app.figures import draw_advice, draw_map, draw_sections, draw_tests
from geoprofile.app.figures_discharge import draw_discharge
from geoprofile.app.figures_model import draw_models
from geoprofile.app.history import Comparison, compare, history
from geoprofile.app.inspecting import Seen, inspect_file
from geoprofile.app.loading import create, load
from geoprofile.app.outcome import Outcome, silent
from geoprofile.app.planning import plan
from geoprofile.app.portfolio import Gathered, portfolio, push_portfolio
from geoprofile.app.running import run, run_folder
from geoprofile.app.show import as_read, check, open_site, plain_rows, read, show
from geoprofile.app.upkeep import migrate, restore, safety_copies
from geoprofile.app.validating import Validated, validate
from geoprofile.products.conductivity.temperature import at_temperature

__all__ = [
    "Comparison",
    "Gathered",
    "Outcome",
    "Seen",
    "Validated",
    "as_read",
    "at_temperature",
    "check",
    "compare",
    "compose",
    "create",
    "derive",
    "draw_advice",
    "draw_discharge",
    "draw_map",
    "draw_models",
    "draw_sections",
    "draw_tests",
    "history",
    "inspect_file",
    "load",
    "migrate",
    "open_site",
    "plain_rows",
    "plan",
    "portfolio",
    "push_portfolio",
    "read",
    "restore",
    "run",
    "run_folder",
    "safety_copies",
    "show",
    "silent",
    "validate",
]
