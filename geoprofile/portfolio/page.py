"""A page of all sites, the most urgent first, with links to what each says itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from geoprofile.drawing.marks import SITES, site_mark
from geoprofile.drawing.symbols import FAINT, INK, PAPER, units_in
from geoprofile.report.markup import escaped, number

CAUTION = (
    "Interpolated from a few boreholes at each site. The order is a reading list, not a judgement "
    "of risk: decisions on health, drilling or pressure need local codes, the makers' limits and a "
    "licensed professional."
)
LOOK = (
    f"body{{font:15px/1.45 sans-serif;margin:2rem;color:{INK};background:{PAPER}}}"
    "table{border-collapse:collapse}"
    f"td,th{{padding:.3rem .6rem;border-bottom:1px solid {FAINT};text-align:left;"
    "vertical-align:top}td.n,th.n{text-align:right;white-space:nowrap}"
    "svg{width:14px;height:14px;vertical-align:-2px}"
)
FORMS = {
    "circle": '<circle cx="7" cy="7" r="6" {}/>',
    "square": '<rect x="1" y="1" width="12" height="12" {}/>',
    "triangle": '<path d="M7 1l6 12H1z" {}/>',
}
MOST_TESTS = 20
AMOUNTS = {"volume_m3": "m3", "area_m2": "m2", "discharge_g_per_day": "g/d"}


def page(sites: Sequence[dict[str, Any]], tests: Sequence[dict[str, Any]]) -> str:
    """The page as HTML that needs no network."""
    heads = ("", "Site", "State", "Worst finding", "Analyte", "Volume, m³", "Area, m²")
    more = ("Discharge, g/d", "Next test", "Last round")
    rows = "".join(_row(one) for one in sites)
    listed = "".join(_test(one) for one in tests[:MOST_TESTS])
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Sites by urgency</title>'
        f"<style>{LOOK}</style><h1>Sites by urgency</h1><p>{escaped(CAUTION)}</p>"
        f"<table><tr>{''.join(f'<th>{h}</th>' for h in (*heads, *more))}</tr>{rows}</table>"
        "<h2>Next tests over all sites</h2><p>By the uncertain volume that each is expected "
        "to settle; plumes and K have ranks of their own, and costs are not compared.</p>"
        "<table><tr><th>Rank</th><th>Site</th><th>Borehole</th><th>Depth, m</th>"
        f"<th>Quantity</th><th>Gain</th><th>Why</th></tr>{listed}</table></html>\n"
    )


def _row(one: dict[str, Any]) -> str:
    name = escaped(one["site"])
    if one["report"]:
        name = f'<a href="{escaped(quote(one["report"]))}">{name}</a>'
    said = one["reason"] if one["state"] != "finished" else one["worst_finding"]
    if said and one["worst_severity"]:
        said = f"{one['worst_severity']}: {said}"
    state = f"{_mark(site_mark(one['state'], one['worst_severity']))} {escaped(one['state'])}"
    cells = [
        f'<td class="n">{one["urgency"]}</td><td>{name}</td><td>{state}</td>',
        f"<td>{escaped(said or '')}</td><td>{escaped(one['analyte'] or '')}</td>",
        *(_number(one[name], unit) for name, unit in AMOUNTS.items()),
        f"<td>{escaped(one['next_test'] or '')}</td><td>{escaped(one['last_round'] or '')}</td>",
    ]
    return f"<tr>{''.join(cells)}</tr>"


def _mark(name: str) -> str:
    """The mark that a site has on the map too."""
    mark = SITES[name]
    look = f'fill="{mark.colour}" stroke="{INK}"'
    form = FORMS[mark.form].format(look)
    return f'<svg role="img" viewBox="0 0 14 14" aria-label="{escaped(name)}">{form}</svg>'


def _test(one: dict[str, Any]) -> str:
    depth = f"{one['top_m']:.1f} to {one['bottom_m']:.1f}"
    words = (one["site"], one["borehole"], depth, one["quantity"])
    gain = ""
    if one["gain"] is not None:
        gain = f"{number(one['gain'], 2, str(one['gain_unit']))} {units_in(str(one['gain_unit']))}"
    cells = "".join(f"<td>{escaped(str(word or ''))}</td>" for word in (*words, gain))
    return (
        f'<tr><td class="n">{one["rank"]}</td>{cells}<td>{escaped(one["reason"] or "")}</td></tr>'
    )


def _number(value: float | None, unit: str) -> str:
    return f'<td class="n">{number(value, 2, unit)}</td>'
