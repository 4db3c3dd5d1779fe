"""Where a number comes from: run, inputs, file, and the file's SHA-256."""

from __future__ import annotations

from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, words
from geoprofile.report.tables import Shown, field, table

HASH_SHOWN = 10


def run_link(row: Row) -> str:
    """A link to the run that made a row."""
    run = row.get("run")
    return "" if run is None else f'<a href="#run-{int(run)}">run {int(run)}</a>'


def readings_link(content: Content, test: str) -> str:
    """Links to the files that hold the readings or pressure steps of a test, or else the test."""
    for name in ("reading", "pressure_step", "test"):
        file = content.file_of.get((name, test))
        if file is not None:
            return file_link(content, file)
    return ""


def results_link(content: Content, row: Row) -> str:
    """Links to the files that hold the results of an interval's samples in a round."""
    samples = [
        str(s["sample"])
        for s in content.rows("sample")
        if s["interval"] == row["interval"]
        and s["round"] in (None, "", row.get("sampled_round", row["round"]))
    ]
    files = [content.file_of.get(("result", s)) for s in samples]
    return " ".join(file_link(content, f) for f in dict.fromkeys(files) if f)


def file_link(content: Content, file: str) -> str:
    """A link to a file in the list of files, with the start of its fingerprint."""
    place = content.files.get(file)
    if place is None:
        return words(file)
    start = str(content.rows("source_file")[place]["fingerprint"] or "")[:HASH_SHOWN]
    return f'<a href="#file-{place}">{words(file)}</a> <code>{escaped(start)}</code>'


def provenance(content: Content) -> str:
    """The files, the runs, and which run made which table."""
    files = content.rows("source_file")
    file_columns = [
        Shown(
            "File",
            lambda r: (
                f'<span id="file-{content.files[str(r["source_file"])]}">'
                f"{words(r['source_file'])}</span>"
            ),
            is_html=True,
        ),
        field("Fills", "source_table"),
        field("Rows", "rows"),
        Shown("SHA-256", lambda r: f"<code>{escaped(r['fingerprint'])}</code>", is_html=True),
        Shown("Loaded in", run_link, is_html=True),
    ]
    run_columns = [
        Shown("Run", lambda r: f'<span id="run-{r["run"]}">{r["run"]}</span>', is_html=True),
        field("Command", "command"),
        field("Version", "version"),
        field("Start (UTC)", "started_at"),
        field("End (UTC)", "ended_at"),
        field("Settings", "settings"),
    ]
    return (
        "<p>Every value in the tables above names its run and, where one file holds its readings "
        "or results, that file with the start of its SHA-256. A value was computed by that run "
        "from the files listed here.</p>"
        + table("Files that were loaded", file_columns, files)
        + table("Runs", run_columns, content.rows("run"))
        + table("Derived tables and their runs", _made_columns(), _made(content), in_halves=True)
    )


def _made(content: Content) -> list[Row]:
    from geoprofile.schema import DERIVED

    found = []
    for one in DERIVED:
        rows = content.rows(one.name)
        if rows:
            runs = sorted({int(r["run"]) for r in rows if r["run"] is not None})
            found.append({"table": one.name, "title": one.title, "rows": len(rows), "runs": runs})
    return found


def _made_columns() -> list[Shown]:
    return [
        field("Table", "table"),
        field("What", "title"),
        field("Rows", "rows"),
        Shown(
            "Made in",
            lambda r: " ".join(run_link({"run": n}) for n in r["runs"]),
            is_html=True,
        ),
    ]
