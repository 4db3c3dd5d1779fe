"""What the methods behind the numbers were held against, as kept with the program."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.report.markup import escaped
from geoprofile.report.tables import Shown, table
from geoprofile.validation.committed import kept
from geoprofile.validation.topics import TOPICS, anchor

TEXT = (
    "<p>Problems with published or exact answers, computed when this version was made; the command "
    "<code>geoprofile validate validation.html</code> computes them on your machine, with a page "
    "that gives every source. That a method computes what its source says does not make it fit for "
    "every test: grades and reasons stand beside each K.</p>"
)


def proof() -> str:
    """One table for each topic of the validation book, with the anchor that numbers point at."""
    parts = [TEXT]
    for topic, title in TOPICS.items():
        rows = [dict(r) for r in kept().values() if r["topic"] == topic]
        parts.append(
            f'<div id="{anchor(topic)}"><h3>{escaped(title)}</h3>{_table(title, rows)}</div>'
        )
    return "".join(parts)


def _table(title: str, rows: list[dict[str, str]]) -> str:
    columns = [
        Shown("Problem", _problem),
        Shown("Source", lambda r: f"{r['source']} ({r['basis']})"),
        Shown("Reference", lambda r: float(r["reference"])),
        Shown("Found", lambda r: float(r["found"])),
        Shown("Unit", lambda r: "" if r["unit"] == "1" else r["unit"]),
        Shown("Digits that agree", _digits),
        Shown("Pass mark", lambda r: r["pass_mark"]),
        Shown("Verdict", lambda r: r["status"]),
    ]
    return table(f"Checks: {title}", columns, rows, none="None kept.")


def _problem(row: Mapping[str, str]) -> str:
    """The problem, and which of its entries is shown: the one nearest to its pass mark."""
    if not row["entry"]:
        return row["problem"]
    return f"{row['problem']} (worst of {row['entries']}: {row['entry']})"


def _digits(row: Mapping[str, str]) -> float | None:
    said = row["log_relative_error"]
    return float(said) if said else None
