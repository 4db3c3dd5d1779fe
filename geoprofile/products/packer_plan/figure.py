"""Writes a field plan: pages to print, one page to read, and tables that load again."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Callable
from functools import partial
from pathlib import Path

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from geoprofile.drawing import theme
from geoprofile.drawing.people import translated
from geoprofile.errors import UsageError, not_drawn
from geoprofile.packers.cautions import DRILLING_CAUTION, FIELD_CAUTIONS
from geoprofile.products.packer_plan.blanks import blanks_of
from geoprofile.products.packer_plan.figure_overview import ROWS_A_PAGE, draw_list, draw_overview
from geoprofile.products.packer_plan.figure_record import HEAD, draw_record
from geoprofile.products.packer_plan.figure_rows import sheet_blocks, span
from geoprofile.products.packer_plan.figure_set_up import draw_setup, drawing_svg
from geoprofile.products.packer_plan.plan import Plan, Visit
from geoprofile.whole import whole_files

WITHOUT_IT = "Do not work from this sheet: take the numbers from the list and the tables."
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
        plan_<borehole>.pdf, .html, and a folder plan_<borehole> with the tables of `blanks_of`.

    Raises
    ------
    UsageError
        A file is there already.

    Notes
    -----
    Planned tests count as soon as their readings are loaded.
    """
    name = "".join(c if c.isalnum() or c in "-_" else "_" for c in plan.borehole)
    base = Path(folder)
    targets = [base / f"plan_{name}.pdf", base / f"plan_{name}.html"]
    rows = {base / f"plan_{name}" / file: text for file, text in blanks_of(plan).items()}
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
                with theme.sheet(theme.paper_portrait()) as figure:
                    draw(figure)
                    if plan.document is not None:
                        theme.title_block(figure, plan.document)
                    pages.savefig(figure)
            except (OSError, MemoryError):
                raise
            except Exception as error:
                with theme.sheet(theme.paper_portrait()) as figure:
                    theme.title(figure, "A page that could not be drawn", WITHOUT_IT)
                    figure.text(0.08, 0.8, _wrapped(not_drawn("this page", error)), size=9)
                    pages.savefig(figure)


def _wrapped(text: str) -> str:
    return "\n".join(textwrap.wrap(text, 90))


def _pages(plan: Plan) -> list[Callable[[Figure], None]]:
    """One function per page that draws it; each set-up has its sheet and a page to write on."""
    lists = range(0, len(plan.visits), ROWS_A_PAGE)
    numbers = range(1, len(plan.visits) + 1)
    told = [partial(_draw_advice, plan=plan)] if plan.new_hole or plan.moved else []
    return [
        partial(draw_overview, plan=plan),
        *told,
        *(partial(draw_list, plan=plan, first=first) for first in lists),
        *(
            partial(draw, plan=plan, number=number)
            for number in numbers
            for draw in (draw_setup, draw_record)
        ),
    ]


def _draw_advice(figure: Figure, *, plan: Plan) -> None:
    """A page on the new hole, and on what the advice wanted elsewhere."""
    theme.title(figure, f"From the advice to the plan of {plan.borehole}", plan.site)
    text = "\n\n".join(_wrapped(words) for words in _advice_words(plan))
    figure.text(0.08, 0.86, text, size=9, va="top")


def _advice_words(plan: Plan) -> tuple[str, ...]:
    place = () if plan.new_hole is None else (plan.new_hole.words, DRILLING_CAUTION)
    return (*place, *plan.moved)


def plan_html(plan: Plan) -> str:
    """The whole plan as one page that needs no other file."""
    title = html.escape(f"Field plan of borehole {plan.borehole}")
    cautions = "".join(f"<p>{html.escape(words)}</p>" for words in FIELD_CAUTIONS)
    extra = "".join(f"<p>{html.escape(translated(words))}</p>\n" for words in plan.long_zones)
    sections = "\n".join(
        _section(plan, number, visit) for number, visit in enumerate(plan.visits, start=1)
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{STYLE}</style></head><body>\n<h1>{title}</h1>\n"
        f"<p>{html.escape(plan.site)}: {len(plan.visits)} set-ups in "
        f"{html.escape(plan.days_words)}. {html.escape('; '.join(plan.assumptions))}</p>\n"
        f"{_signed(plan)}"
        f"{_of_advice(plan)}<aside>{cautions}</aside>\n{extra}{sections}\n</body></html>\n"
    )


def _signed(plan: Plan) -> str:
    """The title block."""
    return "" if plan.document is None else f"<p>{html.escape(plan.document.line)}</p>\n"


def _of_advice(plan: Plan) -> str:
    """Where a new hole is to be, and what the advice wanted elsewhere."""
    return "".join(f"<p>{html.escape(words)}</p>" for words in _advice_words(plan))


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
    rows.append('<tr><th colspan="3">Who and when</th></tr>')
    rows += [
        f'<tr><td>{html.escape(words)}</td><td></td><td class="blank"></td></tr>' for words in HEAD
    ]
    rows.append('<tr><th colspan="3">Time of the day</th></tr>')
    rows += [
        f'<tr><td>{step.clock}</td><td colspan="2">{html.escape(step.what)}</td></tr>'
        for step in visit.steps
    ]
    notes = "".join(f"<p>{html.escape(translated(note))}</p>" for note in visit.notes)
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
        f"<section><h2>{number}. {span(setup.top_m, setup.bottom_m)},"
        f" {html.escape(visit.interval)}</h2>{drawing}<table>{''.join(rows)}</table>"
        f"{mind}</section>"
    )
