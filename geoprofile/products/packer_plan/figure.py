"""Writes a field plan: pages to print, one page to read, and tables that load again."""

from __future__ import annotations

import csv
import html
import io
import textwrap
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from geoprofile.drawing import theme
from geoprofile.errors import UsageError, not_drawn
from geoprofile.packers.cautions import FIELD_CAUTIONS
from geoprofile.products.packer_plan.figure_overview import ROWS_A_PAGE, draw_list, draw_overview
from geoprofile.products.packer_plan.figure_rows import sheet_blocks
from geoprofile.products.packer_plan.figure_set_up import draw_setup, drawing_svg
from geoprofile.products.packer_plan.plan import Plan, Visit
from geoprofile.schema.inputs import DEPTH_ALONG
from geoprofile.whole import whole_files

INTERVAL_COLUMNS = (
    "interval",
    "borehole",
    "top_m",
    "bottom_m",
    "isolation",
    "packer",
    "inflation_kpa",
    "set_at",
    "static_depth_m",
    "development",
    "static_depth_is",
    "remarks",
)
TEST_COLUMNS = (
    "test",
    "interval",
    "kind",
    "started_at",
    "riser_diameter_mm",
    "riser_outer_diameter_mm",
    "expected_displacement_m",
    "status",
    "remarks",
)
WITHOUT_IT = "Do not work from this sheet: take the numbers from the list and the tables."
KINDS = {
    "slug test": ("rising head", "falling head", "rising head"),
    "constant head": ("constant head",),
    "pressure pulse": ("pressure pulse", "pressure pulse"),
}
DISPLACEMENT_M = (-1.0, 0.5, -1.0)  # first size repeated last; withdrawal is below 0
STYLE = """body{font:15px/1.45 sans-serif;color:#22262b;max-width:60em;margin:2em auto;
padding:0 1em}
section{display:flex;flex-wrap:wrap;gap:1.5em;border-top:2px solid #6d747c;padding:1em 0;
break-before:page}section>h2{width:100%;margin:0}svg{width:17em;height:auto}
table{border-collapse:collapse;font-size:13px}td,th{text-align:left;padding:.15em .8em .15em 0;
vertical-align:top}td.blank{border-bottom:1px solid #c9ced3;min-width:8em}th{padding-top:.7em}
aside{border:1px solid #6d747c;padding:.5em 1em;font-size:13px;width:100%}"""


def write_plan(plan: Plan, folder: str | Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write the plan as PDF and HTML, and its rows as CSV that `load` takes when filled in.

    Parameters
    ----------
    plan : Plan
        From `make_plan`.
    folder : str or Path
        Made where it is not there.
    overwrite : bool
        Replace files that are there.

    Returns
    -------
    tuple of Path
        plan_<borehole>.pdf, .html, and a folder plan_<borehole> with intervals.csv and, with
        hydraulic tests, tests.csv.

    Raises
    ------
    UsageError
        A file is there already.

    Notes
    -----
    Planned tests bear the status "exclude" until the crew sets it to "use".
    """
    name = "".join(c if c.isalnum() or c in "-_" else "_" for c in plan.borehole)
    base = Path(folder)
    targets = [base / f"plan_{name}.pdf", base / f"plan_{name}.html"]
    tables = {"intervals.csv": _interval_csv(plan)}
    if plan.purpose != "chemistry":
        tables["tests.csv"] = _test_csv(plan)
    rows = {base / f"plan_{name}" / file: text for file, text in tables.items()}
    taken = [str(p) for p in (*targets, *rows) if p.exists()]
    if taken and not overwrite:
        raise UsageError(
            "plan", f"{', '.join(taken)}", "no file of that name", "Use --overwrite, or move it."
        )
    texts = {targets[1]: plan_html(plan), **rows}
    with whole_files([targets[0], *texts]) as (sheets, *besides):
        _write_pdf(plan, sheets)
        for beside, text in zip(besides, texts.values(), strict=True):
            beside.write_text(text, encoding="utf-8", newline="")
    return (*targets, *rows)


def _write_pdf(plan: Plan, target: Path) -> None:
    """Overview, list, and a page per set-up."""
    undated = {"CreationDate": None}
    # the fonts are written when the file is closed, so the look must still hold then
    with mpl.rc_context(theme.STYLE), PdfPages(target, metadata=undated) as pages:
        for draw in _pages(plan):
            try:
                with theme.sheet(theme.PORTRAIT_IN) as figure:
                    draw(figure)
                    pages.savefig(figure)
            except (OSError, MemoryError):
                raise
            except Exception as error:
                with theme.sheet(theme.PORTRAIT_IN) as figure:
                    theme.title(figure, "A page that could not be drawn", WITHOUT_IT)
                    figure.text(0.08, 0.8, _wrapped(not_drawn("this page", error)), size=9)
                    pages.savefig(figure)


def _wrapped(text: str) -> str:
    return "\n".join(textwrap.wrap(text, 90))


def _pages(plan: Plan) -> list[Callable[[Figure], None]]:
    """One function per page that draws it."""
    lists = range(0, len(plan.visits), ROWS_A_PAGE)
    numbers = range(1, len(plan.visits) + 1)
    return [
        partial(draw_overview, plan=plan),
        *(partial(draw_list, plan=plan, first=first) for first in lists),
        *(partial(draw_setup, plan=plan, number=number) for number in numbers),
    ]


def plan_html(plan: Plan) -> str:
    """The whole plan as one page that needs no other file.

    Parameters
    ----------
    plan : Plan
        From `make_plan`.

    Returns
    -------
    str
        HTML; text of the user is escaped.
    """
    title = html.escape(f"Field plan of borehole {plan.borehole}")
    cautions = "".join(f"<p>{html.escape(words)}</p>" for words in FIELD_CAUTIONS)
    extra = "".join(f"<p>{html.escape(words)}</p>\n" for words in plan.long_zones)
    sections = "\n".join(
        _section(plan, number, visit) for number, visit in enumerate(plan.visits, start=1)
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{STYLE}</style></head><body>\n<h1>{title}</h1>\n"
        f"<p>{html.escape(plan.site)}: {len(plan.visits)} set-ups in {plan.days} day(s)</p>\n"
        f"<aside>{cautions}</aside>\n{extra}{sections}\n</body></html>\n"
    )


def _section(plan: Plan, number: int, visit: Visit) -> str:
    """One set-up: drawing, rows and times."""
    setup = visit.setup
    rows = []
    for block in sheet_blocks(plan, visit):
        rows.append(f'<tr><th colspan="3">{html.escape(block.heading)}</th></tr>')
        for row in block.rows:
            blank = ' class="blank"' if row.has_blank else ""
            rows.append(
                f"<tr><td>{html.escape(row.label)}</td><td>{html.escape(row.planned)}</td>"
                f"<td{blank}></td></tr>"
            )
    rows.append('<tr><th colspan="3">Time of the day</th></tr>')
    rows += [
        f'<tr><td>{step.clock}</td><td colspan="2">{html.escape(step.what)}</td></tr>'
        for step in visit.steps
    ]
    notes = "".join(f"<p>{html.escape(note)}</p>" for note in visit.notes)
    mind = f"<aside><b>Mind here</b>{notes}</aside>" if notes else ""
    try:
        drawing = drawing_svg(plan, number)
    except (OSError, MemoryError):
        raise
    except Exception as error:
        drawing = f"<p>{html.escape(not_drawn('the set-up', error))}</p>"
    drawing = drawing.replace('id="', f'id="s{number}-')
    drawing = drawing.replace('"#', f'"#s{number}-').replace("url(#", f"url(#s{number}-")
    return (
        f"<section><h2>{number}. {setup.top_m:.2f} to {setup.bottom_m:.2f} m,"
        f" {html.escape(visit.interval)}</h2>{drawing}<table>{''.join(rows)}</table>"
        f"{mind}</section>"
    )


def _interval_csv(plan: Plan) -> str:
    """Rows of the table interval: what was planned, with blanks for what the crew fills in."""
    rows = [
        {
            "interval": v.interval,
            "borehole": plan.borehole,
            "top_m": f"{v.setup.top_m:.2f}",
            "bottom_m": f"{v.setup.bottom_m:.2f}",
            "isolation": v.setup.isolation,
            "packer": v.setup.packer.packer,
            "inflation_kpa": f"{v.inflation.gauge_pa / 1e3:.0f}",
            "static_depth_is": DEPTH_ALONG,
            "remarks": "planned",
        }
        for v in plan.visits
    ]
    return _csv(INTERVAL_COLUMNS, rows)


def _test_csv(plan: Plan) -> str:
    """Rows of the table test, excluded until they were made."""
    rows = []
    for visit in plan.visits:
        kinds = KINDS.get(visit.choice.method or "", ())
        pipe = visit.setup.packer.pipe_inner_diameter_m
        for letter, kind, height in zip("abc", kinds, DISPLACEMENT_M, strict=False):
            rows.append(
                {
                    "test": f"{visit.interval}-{letter}",
                    "interval": visit.interval,
                    "kind": kind,
                    "riser_diameter_mm": "" if pipe is None else f"{1e3 * pipe:g}",
                    "expected_displacement_m": "" if kind == "constant head" else f"{height:g}",
                    "status": "exclude",
                    "remarks": "planned; set status to use when made",
                }
            )
    return _csv(TEST_COLUMNS, rows)


def _csv(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as CSV with a heading."""
    target = io.StringIO()
    writer = csv.DictWriter(target, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return target.getvalue()
