"""The parts of the report that are tables, from tests to findings, and the attachments."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace

from geoprofile.drawing.symbols import proposal_name
from geoprofile.plugins.registry import plugins
from geoprofile.report.amounts import coverage
from geoprofile.report.behind_k import behind_k
from geoprofile.report.content import Content, Row
from geoprofile.report.held_out import predicted
from geoprofile.report.markup import escaped, listed, number, part, words
from geoprofile.report.origins import readings_link, results_link, run_link
from geoprofile.report.repeats import repeats
from geoprofile.report.summary import records
from geoprofile.report.tables import Shown, coordinate, field, table
from geoprofile.schema.finding import SEVERITIES
from geoprofile.schema.soil_gas import PER_UG_PER_L, SOIL_GAS
from geoprofile.store.attachments import Attachment, attachments_of

RUN = Shown("Run", run_link, is_html=True)
PICTURES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg"}
MOST_PICTURE_BYTES, MOST_PICTURES_BYTES = 300_000, 1_500_000
SHOWN_AS = {"field": "map, volumes, discharge", "limits": "measured values only"}
APART = "each hydrostratigraphic unit apart, "
FINGERPRINTS = (
    '<span class="on-paper">The fingerprints of the files stand once, under Where the numbers come '
    "from.</span>"
)
TEST_CAUTION = (
    "K is that of the interval at the scale of the test, at in-situ temperature. Leave "
    "rejected tests out of decisions."
)


def tests(content: Content) -> str:
    """Every test with its value, grade and reasons."""
    rows = [r for r in content.rows("conductivity") if r["preferred"] or r["grade"] == "rejected"]
    reasons = repeats(rows, "Reasons", "notes", "R")
    chosen = repeats(rows, "Why this method", "chosen_because", "M")
    columns = [
        field("Borehole", "borehole"),
        field("Interval", "interval"),
        field("Top", "top_m", "m"),
        field("Bottom", "bottom_m", "m"),
        field("Test", "test"),
        field("Method", "method"),
        field("K", "k_m_per_s", "m/s"),
        field("95 % from", "k_low_m_per_s", "m/s"),
        field("to", "k_high_m_per_s", "m/s"),
        Shown("Grade", _grade, is_html=True),
        chosen.column,
        reasons.column,
        Shown("Readings", lambda r: readings_link(content, str(r["test"])), is_html=True),
        RUN,
    ]
    inner = (
        f"<p>{TEST_CAUTION} {FINGERPRINTS}</p>"
        + table("Hydraulic tests", columns, rows, hole_of=content.hole)
        + reasons.told("Reasons that hold for several tests:")
        + chosen.told("Why a method was preferred, where that holds for several tests:")
    )
    return part("tests", "Tests and their grades", inner + behind_k(content))


def _grade(row: Row) -> str:
    grade = row["grade"]
    return "" if grade is None else f'<span class="grade {escaped(grade)}">{escaped(grade)}</span>'


GAS_WORDS = (
    "Soil gas is held against criteria for soil gas only. It has a model and maps of its own, "
    "above the water level, and is in no field, extent or volume of water."
)


def concentrations(content: Content) -> str:
    """The latest round of every substance by interval."""
    columns = [
        field("Borehole", "borehole"),
        field("Interval", "interval"),
        field("Top", "top_m", "m"),
        field("Bottom", "bottom_m", "m"),
        field("Substance", "analyte"),
        field("Round", "round"),
        field("Value", "value_ug_per_l", "ug/L"),
        Shown("Not detected below", _limit, "ug/L", key="limit_ug_per_l"),
        field("Above criterion", "exceeds"),
        field("Sampled (UTC)", "sampled_at"),
        field("In round", "sampled_round"),
        field("Older than the latest sample by", "age_d", "d", 2),
        field("Notes", "notes"),
        Shown("Results", lambda r: results_link(content, r), is_html=True),
        RUN,
    ]
    text = (
        "<p>A substance that was not detected has a limit and no value. The criterion is the "
        f"user's own. {FINGERPRINTS}</p>"
    )
    water = [r for r in content.latest if r["medium"] != SOIL_GAS]
    inner = text + table("Concentrations", columns, water, hole_of=content.hole)
    return part("concentrations", "Concentrations, latest rounds", inner + _gas(content, columns))


def _gas(content: Content, columns: list[Shown]) -> str:
    """Soil gas in its own unit; in ppmv too where its molar mass is told."""
    gas = [r for r in content.latest if r["medium"] == SOIL_GAS]
    if not gas:
        return ""
    parts = {_place(r): r for r in content.rows("soil_gas") if r["molar_mass_g_per_mol"]}
    own = [
        Shown("Value", lambda r: _per_m3(r["value_ug_per_l"]), "ug/m3", key="value_ug_per_m3"),
        Shown("Not detected below", lambda r: _per_m3(_limit(r)), "ug/m3", key="limit_ug_per_l"),
    ]
    text = f"<p>{GAS_WORDS}</p>"
    if parts:
        in_parts = Shown("Value", lambda r: parts.get(_place(r), r).get("value_ppmv"), "ppmv")
        own.append(replace(in_parts, key="value_ppmv"))
        text += f"<p>{escaped(_state(list(parts.values())))}</p>"
    shown = [*columns[:6], *own, *columns[8:]]
    return text + table("Soil gas", shown, gas, hole_of=content.hole)


def _place(row: Row) -> tuple[str, ...]:
    return str(row["interval"]), str(row["analyte"]), str(row["round"])


def _state(rows: list[Row]) -> str:
    """What parts by volume rest on."""
    masses = {str(r["analyte"]): float(r["molar_mass_g_per_mol"]) for r in rows}
    told = ", ".join(f"{name} {mass:g} g/mol" for name, mass in sorted(masses.items()))
    return (
        f"ppmv are parts per million by volume of an ideal gas at {rows[0]['temperature_c']:g} °C "
        f"and {rows[0]['pressure_kpa']:g} kPa; {told}."
    )


def _per_m3(value: float | None) -> float | None:
    """From ug/L to ug/m3, the unit in which soil gas is told."""
    return None if value is None else PER_UG_PER_L * value


def _limit(row: Row) -> float | None:
    limit: float | None = row["limit_ug_per_l"]
    return limit if row["value_ug_per_l"] is None else None


def heads(content: Content) -> str:
    """Static heads and vertical gradients."""
    rows = content.rows("head")
    notes = repeats(rows, "Notes", "notes", "N")
    columns = [
        field("Borehole", "borehole"),
        field("Interval", "interval"),
        field("Measured (UTC)", "measured_at"),
        field("Head", "head_m", "m", 6),
        field("Vertical gradient, upward positive", "vertical_gradient"),
        notes.column,
        RUN,
    ]
    inner = table("Static heads", columns, rows, hole_of=content.hole, in_halves=True)
    return part("heads", "Heads", inner + notes.told("Notes of several heads:"))


def fields(content: Content) -> str:
    """Scores and coverage of every field."""
    columns = [
        field("Quantity", "quantity"),
        field("Round", "round"),
        field("Intervals", "data_count"),
        field("Not detected", "nondetect_count"),
        field("Boreholes", "borehole_count"),
        field("In 50 %", "coverage_50", digits=2),
        field("In 80 %", "coverage_80", digits=2),
        field("In 95 %", "coverage_95", digits=2),
        field("Error of log10", "rmse_log10"),
        field("Log score", "log_score"),
        field("Of one level for all places", "log_score_constant"),
        Shown("Shown as", lambda r: SHOWN_AS.get(str(r["shown_as"]))),
        field("Warnings", "warnings"),
        RUN,
    ]
    fitted = [
        field("Quantity", "quantity"),
        field("Round", "round"),
        field("Scale", "transform"),
        field("Trend", "trend"),
        Shown("Units", lambda r: "each apart" if r["geology"] == "units" else "as one"),
        field("Covariance", "covariance"),
        field("Sill", "sill", digits=2),
        field("Nugget", "nugget", digits=2),
        field("Length along", "length_along_m", "m"),
        field("across", "length_across_m", "m"),
        field("vertical", "length_vertical_m", "m"),
        field("Azimuth", "azimuth_deg", "deg"),
        field("Dip", "dip_deg", "deg"),
        RUN,
    ]
    text = (
        "<p>Each borehole was left out in turn and predicted from the others. In a calibrated "
        "model about half of the values lie in their 50 % interval, and so on; a share far below "
        "means the map is less sure than it looks.</p>"
    )
    inner = (
        text
        + predicted(content)
        + coverage(content)
        + table("Models between boreholes", columns, content.rows("model"))
        + table("Fitted parameters", fitted, content.rows("model"))
    )
    return part("fields", "Cross-validation of the models", inner)


def advice(content: Content) -> str:
    """Next tests and boreholes with their reasons and cautions."""
    ranked = sorted(content.rows("next_test"), key=lambda r: r["rank"] or 0)
    drilled = content.rows("next_borehole")
    steps_rows = sorted(content.rows("next_step"), key=lambda r: r["number"] or 0)
    listed_above = {str(r["reason"]) for r in steps_rows}
    cautions = repeats([*ranked, *drilled], "Cautions", "cautions", "C")
    why_test, why_hole = (
        field("Why", "reason", elsewhere=_elsewhere(rows, listed_above))
        for rows in (ranked, drilled)
    )
    next_tests = [
        Shown("Number", lambda r: proposal_name("next_test", r["rank"])),
        field("Borehole", "borehole"),
        field("Top", "top_m", "m"),
        field("Bottom", "bottom_m", "m"),
        field("Purpose", "purpose"),
        why_test,
        field("Predicted, 10 %", "predicted_low"),
        field("Predicted, median", "predicted_median"),
        field("Predicted, 90 %", "predicted_high"),
        field("Unit", "predicted_unit"),
        field("Packer", "packer"),
        field("Inflation", "inflation_kpa", "kPa"),
        field("Expected K", "expected_k_m_per_s", "m/s"),
        field("Duration", "expected_duration_s", "s"),
        field("Purge", "purge_l", "L"),
        cautions.column,
        RUN,
    ]
    next_holes = [
        Shown("Number", lambda r: proposal_name("next_borehole", r["rank"])),
        coordinate("Easting", "x_m", "m"),
        coordinate("Northing", "y_m", "m"),
        coordinate("Longitude", "longitude_deg", "deg"),
        coordinate("Latitude", "latitude_deg", "deg"),
        field("Depth", "depth_m", "m"),
        field("Intervals", "intervals"),
        why_hole,
        cautions.column,
        RUN,
    ]
    steps = [
        field("Number", "number"),
        field("Label", "label"),
        field("What", "step"),
        field("Borehole", "borehole"),
        field("Zones", "zones", "m"),
        field("Depth", "depth_m", "m"),
        field("For", "quantities"),
        coordinate("Easting", "x_m", "m"),
        coordinate("Northing", "y_m", "m"),
        field("Why", "reason"),
        RUN,
    ]
    text = (
        '<p class="caution"><strong>Before going out.</strong> Pressures are proposals: an '
        "inflated packer can injure and kill. Keep the maker's limits, keep people away from a "
        "hole under pressure, and have buried services located before drilling.</p>"
    )
    remaining_uncertainty = [
        field("Quantity", "quantity"),
        field("Uncertain now", "uncertain_m3", "m3"),
        field("Ground", "ground_m3", "m3"),
        field("Tests", "tests"),
        field("Expected after them", "expected_m3", "m3"),
        RUN,
    ]
    inner = (
        text
        + cautions.told("Cautions of the tests and boreholes below:")
        + "".join(f"<p>{escaped(words)}</p>" for words in records(content.site))
        + table(
            "What stopping now leaves open",
            remaining_uncertainty,
            content.rows("remaining_uncertainty"),
        )
        + table(
            "Next steps: tests (T) and new boreholes (D) in one list, the best for its cost first",
            steps,
            steps_rows,
        )
        + table("Next tests in existing boreholes", next_tests, ranked, hole_of=content.hole)
        + table("Next boreholes", next_holes, drilled)
    )
    return part("advice", "What to do next", inner)


def _elsewhere(rows: Sequence[Row], told: set[str]) -> str:
    """Where paper finds the reasons, if all of them stand in the list of steps."""
    return "in the list of steps" if all(str(r["reason"]) in told for r in rows) else ""


def findings(content: Content) -> str:
    """What the data check found, the worst first."""
    order = {severity: place for place, severity in enumerate(SEVERITIES)}
    rows = sorted(content.rows("finding"), key=lambda r: order.get(str(r["severity"]), len(order)))
    columns = [
        Shown("Severity", _severity, is_html=True),
        field("Table", "source_table"),
        field("Row", "row_key"),
        field("What", "what"),
        field("What to do", "what_to_do"),
        RUN,
    ]
    return part("findings", "Findings", table("All findings, the worst first", columns, rows))


def _severity(row: Row) -> str:
    severity = escaped(row["severity"] or "")
    return f'<span class="grade {severity}">{severity}</span>'


def methods(content: Content) -> str:
    """The methods that were used, with their sources."""
    known = plugins("methods")
    used = sorted({str(r["method"]) for r in content.rows("conductivity") if r["method"]})
    lines = [
        f"{words(known[m].title)} (<code>{escaped(m)}</code>): {words(known[m].source)}"
        if m in known
        else words(m)
        for m in used
    ]
    lines += [
        f"Field of {words(r['quantity'])}: {words(r['covariance'] or '')} covariance of "
        f"{words(r['transform'] or '')}, trend {words(r['trend'] or '')}, "
        f"{APART if r.get('geology') == 'units' else ''}fitted by restricted "
        "likelihood and judged by leaving out one borehole at a time."
        for r in content.rows("model")
    ]
    criteria = [
        f"Criterion for {words(r['analyte'])}{_in_gas(r)}: {number(r['value'])}"
        f" {words(r['unit'])}, {words(r['basis'])}"
        for r in content.rows("criterion")
    ]
    return part("methods", "Methods and sources", listed([*lines, *criteria]) or "<p>None.</p>")


def _in_gas(row: Row) -> str:
    return " in soil gas" if row.get("medium") == SOIL_GAS else ""


def attachments(content: Content) -> str:
    """Photos and documents; small pictures are shown."""
    found, problems = attachments_of(content.site)
    if not found and not problems:
        return ""
    shown, budget = [], MOST_PICTURES_BYTES
    for one in found:
        picture = _picture(one, budget)
        budget -= len(picture)
        shown.append(
            f"<figure>{picture}<figcaption>{words(one.what)}<br><code>{words(one.name)}</code>"
            f" {_belongs(one)}</figcaption></figure>"
        )
    missing = listed([escaped(p) for p in problems])
    return part(
        "attachments", "Attachments", f'<div class="pictures">{"".join(shown)}</div>{missing}'
    )


def _belongs(one: Attachment) -> str:
    about: Sequence[str | None] = (one.borehole, one.interval, one.taken_at)
    return ", ".join(words(a) for a in about if a)


def _picture(one: Attachment, budget: int) -> str:
    """The picture itself where it is small; nothing otherwise. Only kinds that hold no script."""
    kind = PICTURES.get(one.file.suffix.lower())
    size = one.file.stat().st_size
    if kind is None or size > MOST_PICTURE_BYTES or size * 4 // 3 > budget:
        return ""
    data = base64.b64encode(one.file.read_bytes()).decode()
    return f'<img src="data:{kind};base64,{data}" alt="{escaped(one.what)}">'
