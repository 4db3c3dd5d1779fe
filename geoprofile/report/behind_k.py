"""What stands behind the K of each test in the report: pressure steps and budgets."""

from __future__ import annotations

from collections import defaultdict

from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped
from geoprofile.report.tables import field, table
from geoprofile.report.test_budget import COVERS, COVERS_NOT

LUGEON = (
    "1 Lu is a take of 1 litre per minute and metre of zone at a net pressure of 1 MPa in the "
    "zone. Sheets that work at 10 kgf/cm2 give values 2 % lower."
)


def behind_k(content: Content) -> str:
    """Tables of pressure steps and of budgets, each where there is one."""
    return _steps(content) + _budgets(content)


def _steps(content: Content) -> str:
    rows = content.rows("lugeon")
    if not rows:
        return ""
    columns = [
        field("Borehole", "borehole"),
        field("Test", "test"),
        field("Step", "step"),
        field("Flow", "flow_l_min", "L/min"),
        field("Net head", "net_head_m", "m"),
        field("Net pressure", "net_pressure_kpa", "kPa"),
        field("Pipe loss", "pipe_loss_m", "m"),
        field("Lugeon value", "lugeon", "Lu"),
        field("Stands for the test", "representative"),
    ]
    return f"<p>{LUGEON}</p>" + table("Pressure steps", columns, rows, hole_of=content.hole)


def _budgets(content: Content) -> str:
    """One row a test: its inputs from the largest share down."""
    of_test: dict[str, list[Row]] = defaultdict(list)
    for row in content.rows("conductivity_budget"):
        of_test[str(row["test"])].append(row)
    if not of_test:
        return ""
    rows: list[Row] = [
        {
            "test": name,
            "borehole": parts[0]["borehole"],
            "sd": sum(p["contribution_log10"] ** 2 for p in parts) ** 0.5,
            "shares": ", ".join(
                f"{p['input']} {100 * p['share']:.0f} %" for p in parts if p["share"] >= 0.01
            ),
        }
        for name, parts in of_test.items()
    ]
    columns = [
        field("Borehole", "borehole"),
        field("Test", "test"),
        field("sd of log10 K", "sd"),
        field("Shares of its variance", "shares"),
    ]
    text = f"<p>{escaped(COVERS)} {escaped(COVERS_NOT)}</p>"
    shown = table(
        "What spreads the K of each test", columns, rows, hole_of=content.hole, in_halves=True
    )
    return text + shown
