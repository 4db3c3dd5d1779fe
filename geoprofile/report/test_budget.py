"""The K of one test in words: value, why its method, and the budget of its uncertainty."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataError
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

WIDTH = 96
COVERS = (
    "The interval covers: the readings, radii and length as told, the formulas, and, where nobody "
    "told them, Kv/Kh, a skin and a leak past the packer element, each with the range given above. "
    "K is the middle of all that and may lie some per cent from the K of the method alone, since "
    "what was not told is not even about none; telling Kv/Kh and the development brings them "
    "together."
)
COVERS_NOT = (
    "It does not cover: a wrong depth or static level beyond the reach of the readings, a skin "
    "that changes during the test, trapped air or gas, water much colder or warmer than told, "
    "fractures that open or close, a hole that takes another test's water, water past the lower "
    "element or behind casing, and ground whose K changes sideways within a few zone lengths. Rock "
    "above and below a short zone adds a quarter of what the test feels: only a hole with zones of "
    "several lengths takes that off."
)


def test_budget(site: Site, name: str) -> str:
    """What stands behind the K of one test.

    Parameters
    ----------
    site : Site
        Tables conductivity and conductivity_budget.
    name : str
        Of the test.

    Returns
    -------
    str
        Lines of at most 96 characters, the table apart.

    Raises
    ------
    DataError
        No such test has been analysed.
    """
    rows = [r for r in records_of(site.table("conductivity")) if str(r["test"]) == name]
    if not rows:
        known = ", ".join(sorted(map(str, set(site.tests["test"]))))
        raise DataError(
            f"test {name}",
            "no K of a test of that name",
            f"one of {textwrap.shorten(known, 160)}" if known else "tests in the site",
            "Correct the name, or run `geoprofile conductivity SITE` first.",
        )
    best = next((r for r in rows if r["preferred"]), rows[0])
    budget = [r for r in records_of(site.table("conductivity_budget")) if str(r["test"]) == name]
    return "\n".join(_lines(best, rows, budget))


def _lines(
    best: dict[str, Any], rows: list[dict[str, Any]], budget: list[dict[str, Any]]
) -> Iterator[str]:
    place = f"{best['borehole']}, {best['top_m']:.2f}-{best['bottom_m']:.2f} m"
    yield f"test {best['test']}, interval {best['interval']} ({place}): {best['grade']}"
    if best["k_m_per_s"] is None:
        yield _wrapped(str(best["notes"] or "no method gave a K"))
        return
    yield (
        f"  K {best['k_m_per_s']:.3g} m/s, 95 % {best['k_low_m_per_s']:.3g} to "
        f"{best['k_high_m_per_s']:.3g} m/s, sd of log10 K {best['sd_log10_k']:.3f}"
    )
    if best["k_as_fitted_m_per_s"] is not None:
        yield (
            f"  {best['method']} alone, with no skin and no leak: "
            f"{best['k_as_fitted_m_per_s']:.3g} m/s"
        )
    if best["chosen_because"]:
        yield _wrapped(f"method {best['method']}: {best['chosen_because']}")
    for row in rows:
        if row is not best and row["k_m_per_s"] is not None:
            yield f"  {row['method']}: {row['k_m_per_s']:.3g} m/s, {row['grade']}"
    if best["refused"]:
        yield _wrapped(f"refused: {best['refused']}")
    if best["notes"]:
        yield _wrapped(f"notes: {best['notes']}")
    if budget:
        yield ""
        yield from _table(budget)
        total = sum(r["contribution_log10"] ** 2 for r in budget) ** 0.5
        yield f"  root of the summed squares: {total:.4f} = sd of log10 K (JCGM 100:2008, eq. 10)"
        yield ""
        yield _wrapped(COVERS)
        yield _wrapped(COVERS_NOT)


def _table(budget: list[dict[str, Any]]) -> Iterator[str]:
    heads = (
        "input",
        "estimate",
        "unit",
        "standard u",
        "sensitivity",
        "on log10 K",
        "share",
        "distribution",
    )
    body = [
        (
            str(r["input"]),
            f"{r['estimate']:.4g}",
            str(r["unit"]),
            f"{r['standard_uncertainty']:.3g}",
            f"{r['sensitivity']:.3g}",
            f"{r['contribution_log10']:.4f}",
            f"{100 * r['share']:.1f} %",
            str(r["distribution"]),
        )
        for r in budget
    ]
    wide = [max(len(x[i]) for x in (heads, *body)) for i in range(len(heads))]
    for row in (heads, *body):
        yield "  " + "  ".join(x.ljust(w) for x, w in zip(row, wide, strict=True)).rstrip()


def _wrapped(text: str) -> str:
    return textwrap.fill(f"  {text}", WIDTH, subsequent_indent="    ")
