"""A page of all sites, the most urgent first, with links to what each says itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from geoprofile.report.markup import escaped, number

CAUTION = (
    "Interpolated from a few boreholes at each site. The order is a reading list, not a judgement "
    "of risk: decisions on health, drilling or pressure need local codes, the makers' limits and a "
    "licensed professional."
)
LOOK = (
    "body{font:15px/1.45 sans-serif;margin:2rem;color:#222}table{border-collapse:collapse}"
    "td,th{padding:.3rem .6rem;border-bottom:1px solid #ccc;text-align:left;vertical-align:top}"
    "td.n,th.n{text-align:right;white-space:nowrap}tr.failed td{background:#f3f3f3}"
)
MOST_TESTS = 20


def page(sites: Sequence[dict[str, Any]], tests: Sequence[dict[str, Any]]) -> str:
    """The page as HTML that needs no network.

    Parameters
    ----------
    sites, tests : sequence of dict
        As from `ranked`.

    Returns
    -------
    str
        One document.
    """
    heads = ("", "Site", "State", "Worst finding", "Analyte", "Volume, m³", "Area, m²")
    more = ("Discharge, g/d", "Next test", "Last round")
    rows = "".join(_row(one) for one in sites)
    listed = "".join(_test(one) for one in tests[:MOST_TESTS])
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Sites by urgency</title>'
        f"<style>{LOOK}</style><h1>Sites by urgency</h1><p>{escaped(CAUTION)}</p>"
        f"<table><tr>{''.join(f'<th>{h}</th>' for h in (*heads, *more))}</tr>{rows}</table>"
        "<h2>Next tests over all sites</h2><p>By what they are expected to bring per unit of "
        "cost.</p><table><tr><th>Rank</th><th>Site</th><th>Borehole</th><th>Depth, m</th>"
        f"<th>Quantity</th><th>Gain</th><th>Why</th></tr>{listed}</table></html>\n"
    )


def _row(one: dict[str, Any]) -> str:
    name = escaped(one["site"])
    if one["report"]:
        name = f'<a href="{escaped(quote(one["report"]))}">{name}</a>'
    said = one["reason"] if one["state"] != "finished" else one["worst_finding"]
    cells = [
        f'<td class="n">{one["urgency"]}</td><td>{name}</td><td>{escaped(one["state"])}</td>',
        f"<td>{escaped(said or '')}</td><td>{escaped(one['analyte'] or '')}</td>",
        *(_number(one[n]) for n in ("volume_m3", "area_m2", "discharge_g_per_day")),
        f"<td>{escaped(one['next_test'] or '')}</td><td>{escaped(one['last_round'] or '')}</td>",
    ]
    return f'<tr class="{escaped(one["state"])}">{"".join(cells)}</tr>'


def _test(one: dict[str, Any]) -> str:
    depth = f"{one['top_m']:.1f} to {one['bottom_m']:.1f}"
    words = (one["site"], one["borehole"], depth, one["quantity"])
    gain = f"{number(one['gain'])} {one['gain_unit']}" if one["gain"] is not None else ""
    cells = "".join(f"<td>{escaped(str(word or ''))}</td>" for word in (*words, gain))
    return (
        f'<tr><td class="n">{one["rank"]}</td>{cells}<td>{escaped(one["reason"] or "")}</td></tr>'
    )


def _number(value: float | None) -> str:
    return f'<td class="n">{number(value)}</td>'
