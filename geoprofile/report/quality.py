"""The quality of what the answer rests on in one table, and what the report does not say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from geoprofile.report.answer import GRADES, grades
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import bare, listed, part
from geoprofile.report.tables import field, table
from geoprofile.schema.finding import SEVERITIES

LIMITS = (
    "What lies between boreholes is an estimate; its spread stands beside it. Nothing is said "
    "beyond the boreholes or below them.",
    "The extent of a plume is a statement of probability against a value that the user chose. It "
    "is no verdict on risk, and no legal limit ships with the program.",
    "K is that of the tested interval at the scale of the test and at in-situ temperature.",
    "A substance that was not detected may be there below its limit.",
    "Proposed depths, pressures and places are proposals: makers' limits, local codes, located "
    "services and the people on site come first.",
)


def quality(content: Content) -> str:
    """Tests, models, duplicates, blanks, holding times and findings, a row for each; the limits."""
    rows = [*_tests(content), *_models(content), *_checks(content), *_findings(content)]
    columns = [
        field("What", "what"),
        field("How many", "count"),
        field("What was found", "found"),
        field("Warnings", "warnings"),
    ]
    shown = table("Quality in one table", columns, rows)
    return part("quality", "How good it is", f"{shown}<h3>Limits</h3>{listed(LIMITS)}")


def _row(what: str, count: int, found: str, warnings: str | None = None) -> Row:
    return {"what": what, "count": count, "found": found, "warnings": warnings}


def _tests(content: Content) -> Iterator[Row]:
    graded = grades(content)
    if graded:
        told = ", ".join(f"{graded[g]} {g}" for g in GRADES)
        yield _row("Hydraulic tests analysed", sum(graded.values()), told)


def _models(content: Content) -> Iterator[Row]:
    """How well each model predicts boreholes that it has not seen."""
    for r in content.rows("model"):
        found = [
            f"{r['borehole_count']} boreholes, {r['nondetect_count']} of the intervals below "
            "their limit"
        ]
        if r["coverage_80"] is not None:
            inside = f"{100 * r['coverage_80']:.0f} % of left-out values"
            found.append(f"{inside} in their 80 % interval")
        if r["rmse_log10"] is not None:
            found.append(f"typical error a factor of {bare(10 ** r['rmse_log10'], 2)}")
        named = f"Model of {r['quantity']}" + (f", round {r['round']}" if r["round"] else "")
        yield _row(f"{named}: intervals", r["data_count"], "; ".join(found), r["warnings"])


def _checks(content: Content) -> Iterator[Row]:
    """Duplicates, blanks and times until analysis, by what was judged of them."""
    by_kind: dict[str, list[Row]] = {}
    for r in content.rows("sampling_quality"):
        by_kind.setdefault(str(r["check_of"]), []).append(r)
    for kind, rows in by_kind.items():
        verdicts = Counter(str(r["verdict"]) for r in rows)
        told = ", ".join(f"{n} {verdict}" for verdict, n in verdicts.most_common())
        worst = max((r["relative_difference"] or 0.0 for r in rows), default=0.0)
        if worst:
            told += f"; the largest difference {100 * worst:.0f} % of the mean"
        yield _row(f"Sampling, {kind}: results", len(rows), told)


def _findings(content: Content) -> Iterator[Row]:
    counts = Counter(str(r["severity"]) for r in content.rows("finding"))
    if counts:
        told = ", ".join(f"{counts[s]} {s}" for s in SEVERITIES if counts[s])
        yield _row("Findings of the data check", sum(counts.values()), told)
