"""The book as one page of HTML and as CSV."""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Mapping, Sequence

from geoprofile.validation.book import cases
from geoprofile.validation.case import Line
from geoprofile.validation.committed import kept, studies
from geoprofile.validation.topics import ALSO, NUMBERS, TOPICS, anchor

COLUMNS = (
    "topic", "case", "problem", "source", "basis", "how", "entry", "unit", "entries", "reference",
    "found", "log_relative_error", "pass_mark", "because", "status", "second_route", "note",
    "seconds", "slow",
)  # fmt: skip
HEADINGS = (
    "Problem", "Source", "Computed by", "Reference", "Found", "Digits", "Pass mark", "Verdict",
    "Kept with the program", "Second route and notes",
)  # fmt: skip
STYLE = (
    "body{font:16px/1.45 system-ui,sans-serif;margin:2rem auto;max-width:78rem;padding:0 1rem;"
    "color:#1b1b1b;background:#fff}table{border-collapse:collapse;width:100%;font-size:.85rem}"
    "th,td{border-bottom:1px solid #ccc;padding:.3rem .5rem;text-align:left;vertical-align:top}"
    "td:first-child{min-width:17rem}.how{overflow-wrap:anywhere;min-width:8rem}"
    "details td:first-child{min-width:0}details table{width:auto}"
    "td.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}"
    ".fail{background:#fde2dd;font-weight:bold}.miss{background:#fff3d0}.scroll{overflow-x:auto}"
)
INTRO = (
    "Each line is a problem whose answer is known from elsewhere, computed on this machine. Digits "
    "is the log relative error, -log10 of the largest relative error of all entries; shown is the "
    "entry that uses most of its pass mark. A source 'from memory' was not at hand in print when "
    "the line was written; a second route that shares nothing with the first then checks it."
)
LIMITS = (
    "That a method computes what its source says does not make it fit for a test in the field: "
    "what a test must show stands in the report beside each K. Decisions need a licensed "
    "professional and the authority in charge."
)


def as_csv(lines: Sequence[Line]) -> str:
    """One row for each case, numbers with all their digits."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for line in lines:
        case = line.case
        writer.writerow(
            (
                case.topic, case.name, case.problem, case.source, case.basis, case.how, line.entry,
                case.unit, len(case.reference), repr(line.reference), f"{line.found:.10g}",
                "" if line.digits is None else f"{line.digits:.2f}", case.pass_mark, case.because,
                line.status, _second(line), line.note, f"{line.seconds:.2f}",
                "yes" if case.is_slow else "no",
            )
        )  # fmt: skip
    return text.getvalue()


def as_html(lines: Sequence[Line], versions: Mapping[str, str], *, made_on: str) -> str:
    """The page; every topic has an anchor of its own."""
    known = {line.case.topic for line in lines}
    body = "".join(_topic(t, [x for x in lines if x.case.topic == t]) for t in TOPICS if t in known)
    said = ", ".join(f"{_e(k)} {_e(v)}" for k, v in versions.items())
    links = "".join(
        f'<li><a href="#{anchor(t)}">{_e(TOPICS[t])}</a></li>' for t in TOPICS if t in known
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Validation book</title><style>{STYLE}</style></head><body><main>"
        f"<h1>Validation book</h1><p>{_e(summary(lines))} Made on {_e(made_on)}.</p>"
        f"<p>{_e(INTRO)}</p><p>{_e(LIMITS)}</p><ul>{links}</ul>{body}{_long_studies(lines)}"
        f"<h2>Versions</h2><p>{said}</p></main></body></html>\n"
    )


def summary(lines: Sequence[Line]) -> str:
    """How many passed, are known misses, and failed."""
    known = ("pass", "known miss", "fail", "not run")
    count = {s: sum(x.status == s for x in lines) for s in known}
    numbers = sum(len(x.case.reference) for x in lines if x.status != "not run")
    left = f", {count['not run']} not run" if count["not run"] else ""
    return (
        f"{len(lines)} cases, {numbers} numbers: {count['pass']} pass, "
        f"{count['known miss']} known miss(es), {count['fail']} fail{left}."
    )


def _topic(topic: str, lines: Sequence[Line]) -> str:
    numbers = ", ".join(n for n, t in NUMBERS.items() if topic in (t, *ALSO.get(n, ())))
    head = "".join(f'<th scope="col">{_e(h)}</th>' for h in HEADINGS)
    rows = "".join(_row(line) for line in lines)
    shown = f"<p>Numbers of the report: {_e(numbers)}.</p>" if numbers else ""
    return (
        f'<section id="{anchor(topic)}"><h2>{_e(TOPICS[topic])}</h2>{shown}<div class="scroll">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _row(line: Line) -> str:
    case, old = line.case, kept().get(line.case.name, {})
    look = {"fail": ' class="fail"', "known miss": ' class="miss"'}.get(line.status, "")
    count = f"<br>worst of {len(case.reference)}: " if len(case.reference) > 1 else "<br>"
    entry = f"{count}{_e(line.entry)}" if line.entry else ""
    unit = "" if case.unit == "1" else f" {_e(case.unit)}"
    notes = "; ".join(x for x in (_second(line), line.note) if x)
    because = f" ({_e(case.because)})" if case.because else ""
    return (
        f'<tr{look} id="{_e(case.name)}"><td>{_e(case.problem)}{entry}{_every(line)}</td>'
        f'<td>{_e(case.source)} ({_e(case.basis)})</td><td class="how">{_e(case.how)}</td>'
        f'<td class="n">{line.reference:.6g}{unit}</td><td class="n">{line.found:.6g}</td>'
        f'<td class="n">{"" if line.digits is None else f"{line.digits:.1f}"}</td>'
        f"<td>{_e(case.pass_mark)}{because}</td><td>{_e(line.status)}</td>"
        f'<td class="n">{_e(_short(old.get("found", "")))}</td><td>{_e(notes)}</td></tr>'
    )


def _every(line: Line) -> str:
    """All entries of a case that has several, to be opened."""
    case = line.case
    if len(line.every) < 2:
        return ""
    labels = case.labels or tuple(str(i + 1) for i in range(len(line.every)))
    rows = "".join(
        f'<tr><td>{_e(label)}</td><td class="n">{reference:.8g}</td>'
        f'<td class="n">{found:.8g}</td></tr>'
        for label, reference, found in zip(labels, case.reference, line.every, strict=True)
    )
    head = "<tr><th>Entry</th><th>Reference</th><th>Found</th></tr>"
    return f"<details><summary>All {len(line.every)}</summary><table>{head}{rows}</table></details>"


def _second(line: Line) -> str:
    """The second route, or the case that stands in for one."""
    beside = f"held beside the case {line.case.beside}" if line.case.beside else ""
    return line.second or beside


def _short(number: str) -> str:
    return f"{float(number):.6g}" if number else ""


def _long_studies(lines: Sequence[Line]) -> str:
    """What takes minutes to hours and was not run now, with the figures kept with the program."""
    ran, topics = {line.case.name for line in lines}, {line.case.topic for line in lines}
    rows = [
        (
            TOPICS[c.topic], c.problem, "geoprofile validate --all",
            _short(kept().get(c.name, {}).get("found", "")) or "not recorded", "",
        )
        for c in cases()
        if c.is_slow and c.name not in ran and c.topic in topics
    ]  # fmt: skip
    rows += [
        (
            TOPICS.get(s.topic, "The program itself"), s.what, s.command,
            s.figure or "not recorded", ", ".join(x for x in (s.recorded_on, s.recorded_in) if x),
        )
        for s in studies()
        if s.topic in topics or s.topic not in TOPICS
    ]  # fmt: skip
    cells = "".join(f"<tr>{''.join(f'<td>{_e(v)}</td>' for v in row)}</tr>" for row in rows)
    return (
        '<section id="slow"><h2>What takes longer</h2><p>Figures kept with the program; commands '
        "that name tests run in a copy of the source. Where no result was written down it says so: "
        'that a test passes is not a figure.</p><div class="scroll"><table><thead><tr>'
        "<th>Topic</th><th>Problem</th><th>Command</th><th>Last figure</th><th>Recorded</th>"
        f"</tr></thead><tbody>{cells}</tbody></table></div></section>"
    )


def _e(text: object) -> str:
    return html.escape(str(text))
