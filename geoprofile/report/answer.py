"""The answer first: what is known, how sure, what next."""

from __future__ import annotations

from collections.abc import Iterator

from geoprofile.drawing.people import counted_in, now, translated
from geoprofile.drawing.symbols import shown_unit, units_in
from geoprofile.plugins.registry import told_by_all
from geoprofile.report.beyond_results import (
    extent_in_words,
    only_possible,
    possible_in_words,
    rests_on_model,
)
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, listed, number, words
from geoprofile.report.trial_sites import GAINS
from geoprofile.schema.finding import SEVERITIES

FIRST_STEPS = 4  # of the one list of proposals
GRADES = ("accepted", "qualified", "rejected")
MOST_TOLD = 5  # substances told one by one: the answer is to stay two pages
CAUTION = (
    "Interpolated from a few boreholes: what lies between them was not measured. Values compared "
    "with a criterion are compared with the user's own; nothing here is a verdict on risk. "
    "Decisions on health, drinking water, drilling or pressure need local codes, the makers' "
    "limits and a licensed professional."
)


def answer(content: Content) -> str:
    """Three cards and the caution."""
    cards = (
        ("What is known", list(known(content))),
        ("How sure", list(sure(content))),
        ("What next", list(following(content))),
    )
    inner = "".join(
        f'<div class="card"><h3>{title}</h3>'
        f"{listed(lines) or '<p>Nothing yet: run the site first.</p>'}</div>"
        for title, lines in cards
    )
    return (
        f'<div class="cards">{inner}</div><p class="caution" role="note"><strong>Caution.</strong> '
        f"{CAUTION}</p>"
    )


def known(content: Content) -> Iterator[str]:
    """Amounts: work done, K, plume, discharge, flow."""
    counts = ", ".join(
        f"{len(content.rows(table)):,} {word}"
        for table, word in (
            ("borehole", "boreholes"),
            ("interval", "isolated intervals"),
            ("test", "hydraulic tests"),
            ("sample", "samples"),
        )
        if content.rows(table)
    )
    yield f"{counts or 'No data yet'}."
    yield from _some(limits(content))
    yield from _conductivity(content)
    results = content.rows("concentration")
    yield from _some([_plume(row, rests_on_model(row, results)) for row in _likely_plumes(content)])
    yield from _some([_possible(r, rests_on_model(r, results)) for r in _possible_plumes(content)])
    outer = [r for r in content.rows("plume_line") if r["line"] == "outer"]
    yield from _some([_outer_line(row) for row in outer])
    yield from _some([_discharge(row) for row in _largest(content.rows("discharge"))])
    yield from (_flow(row) for row in content.rows("flow")[:1] if row["gradient"] is not None)


def _some(lines: list[str]) -> list[str]:
    """The first few lines, and where the others stand."""
    if len(lines) <= MOST_TOLD:
        return lines
    more = f'{len(lines) - MOST_TOLD} more in the <a href="#amounts">table of amounts</a>.'
    return [*lines[:MOST_TOLD], more]


def _largest(rows: list[Row]) -> list[Row]:
    """The section through which the most of each substance passes."""
    ordered = sorted(rows, key=lambda r: r["discharge_g_per_day"] or 0.0)
    found = {str(r["analyte"]): r for r in ordered}
    return [r for r in rows if r is found[str(r["analyte"])]]


def _k(value: float) -> str:
    return number(value, unit="m/s")


def _conductivity(content: Content) -> Iterator[str]:
    values = sorted(
        r["k_m_per_s"]
        for r in content.rows("interval_conductivity")
        if r["k_m_per_s"] is not None and r["grade"] != "rejected"
    )
    if values:
        yield (
            f"K from {_k(values[0])} to {_k(values[-1])} m/s, median "
            f"{_k(values[len(values) // 2])} m/s, in {len(values)} intervals."
        )


def _likely_plumes(content: Content) -> list[Row]:
    return [r for r in _latest(content) if r["surface"] == "any depth" and r["probability"] == 0.5]


def _possible_plumes(content: Content) -> list[Row]:
    return only_possible(_latest(content))


def _latest(content: Content) -> list[Row]:
    """Extents of the latest round of each substance."""
    rounds = content.latest_rounds
    rows = content.rows("plume_extent")
    return [r for r in rows if r["round"] == rounds.get(str(r["analyte"]), r["round"])]


def _possible(row: Row, caveat: str) -> str:
    told = escaped(units_in(possible_in_words(row, caveat)))
    return f"{words(row['analyte'])} is {told}."


def _plume(row: Row, caveat: str) -> str:
    told = escaped(units_in(extent_in_words(row, caveat)))
    return f"{words(row['analyte'])} is {told}."


def _outer_line(row: Row) -> str:
    """The line that holds the whole plume, and what would close it."""
    text = (
        f"With {100 * row['confidence']:.0f} % confidence all {words(row['analyte'])} above "
        f"{_amount(row)} {shown_unit('ug/L')} within the mapped ground lies under "
        f"{_amount_in(row['area_m2'], 'm2')}"
    )
    return (
        f"{text}." if row["closed"] else f"{text}, {words(row['notes'] or 'open at the border')}."
    )


def limits(content: Content) -> list[str]:
    """Substances of which only measured values or limits are reported, and why."""
    told, failed = told_by_all("limits", content.site)
    return [words(units_in(translated(line))) for line in (*told, *failed)]


def _amount(row: Row) -> str:
    return number(row["criterion_ug_per_l"]) or "the criterion,"


def _discharge(row: Row) -> str:
    low, high = row["discharge_low_g_per_day"], row["discharge_high_g_per_day"]
    least, most = row["discharge_least_g_per_day"], row["discharge_most_g_per_day"]
    spread = f"10 to 90 % of the simulated fields: {number(low, 2)} to {number(high, 2)}"
    if least is not None and most is not None:
        spread = f"reckon with {number(least, 2)} to {number(most, 2)}; {spread}"
    spread = f" ({spread})" if low is not None else ""
    if row.get("assumed_share") is not None:
        spread += f"; {100 * row['assumed_share']:.0f} % of it where the shape is assumed"
    return (
        f"{words(row['analyte'])} passes section {words(row['section'])} at about "
        f"{number(row['discharge_g_per_day'], 2)} g a day{spread}."
    )


def _flow(row: Row) -> str:
    text = f"Groundwater flows towards {row['azimuth_deg']:.0f}° from grid north"
    if row["azimuth_sd_deg"] is not None:
        spread = row["azimuth_sd_deg"]
        text += f" (standard deviation {'under 1' if spread < 1 else f'{spread:.0f}'}°)"
    return f"{text}, gradient {number(row['gradient'], 2)}."


def sure(content: Content) -> Iterator[str]:
    """Grades, coverage of held-out boreholes, and what the data check found."""
    graded = grades(content)
    if graded:
        listing = ", ".join(f"{graded.get(g, 0)} {g}" for g in GRADES)
        yield f"Tests: {listing}; each with its reasons below."
    yield from _some(list(_predictions(content)))
    counts = {s: sum(r["severity"] == s for r in content.rows("finding")) for s in SEVERITIES}
    if any(counts.values()):
        listing = ", ".join(f"{n} {_plural(s, n)}" for s, n in counts.items() if n)
        yield f'<a href="#findings">Findings</a>: {listing}.'


def _predictions(content: Content) -> Iterator[str]:
    """How well each model predicts boreholes that it has not seen."""
    for row in content.rows("model"):
        if row["coverage_80"] is not None and row["rmse_log10"] is not None:
            yield (
                f"Field of {words(row['quantity'])}{_round(row)}: {100 * row['coverage_80']:.0f} % "
                "of values in held-out boreholes lie in their 80 % interval; typical error a "
                f"factor of {number(10 ** row['rmse_log10'], 2)}."
            )


def _plural(severity: str, count: int) -> str:
    return severity if count == 1 or severity == "serious" else f"{severity}s"


def _round(row: Row) -> str:
    return f" ({words(row['round'])})" if row["round"] else ""


def grades(content: Content) -> dict[str, int]:
    """The number of tests by grade; a test that no method could use counts as rejected."""
    best: dict[str, str] = {}
    for row in content.rows("conductivity"):
        name = str(row["test"])
        if row["preferred"]:
            best[name] = str(row["grade"])
        best.setdefault(name, "rejected")
    return {g: sum(v == g for v in best.values()) for g in GRADES} if best else {}


def following(content: Content) -> Iterator[str]:
    """The first things to do."""
    steps = sorted(content.rows("next_step"), key=lambda r: r["number"] or 0)
    yield from (_step(row) for row in steps[:FIRST_STEPS])
    if len(steps) > FIRST_STEPS:
        yield f'<a href="#advice">{len(steps) - FIRST_STEPS} more</a> in one list.'
    if steps:
        yield GAINS
    serious = [r for r in content.rows("finding") if r["severity"] == "serious"]
    for row in serious[:2]:
        yield f"{words(row['what'])}: {escaped(row['what_to_do'] or '')}"


def _step(row: Row) -> str:
    """A proposal with its number, place and reason."""
    if row["step"] == "test":
        what = f"test {words(row['borehole'])}, {words(translated(str(row['zones']) + ' m'))}"
    else:
        depth = number(now().value(row["depth_m"], "m"))
        what = f"new borehole, {depth} {now().unit('m')} deep"
    place = f"{row['x_m']:.0f} E, {row['y_m']:.0f} N" if row["x_m"] is not None else ""
    return (
        f"<strong>{escaped(row['label'])}</strong> {what} ({place}), for "
        f"{words(row['quantities'])}: {words(translated(row['reason'] or ''))}"
    )


def _amount_in(value: float, unit: str, *span: float | None) -> str:
    """An area or a volume in the unit that is read."""
    return units_in(counted_in(value, unit, *span))
