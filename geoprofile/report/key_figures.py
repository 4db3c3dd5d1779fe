"""The figures of a site that a reader would compare between two runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, TypeAlias

from geoprofile.plugins.registry import offered_by_all
from geoprofile.site import Site, records_of

Value: TypeAlias = float | str
Figures: TypeAlias = Mapping[str, Mapping[str, Value]]
Row: TypeAlias = tuple[str, str, Value | None, Value | None, str]

FIELD_FIGURES = (
    "data_count",
    "nondetect_count",
    "sill",
    "nugget",
    "length_along_m",
    "length_across_m",
    "length_vertical_m",
    "rmse_log10",
)
ANGLES = ("azimuth_deg",)
MOST_TESTS = 5
DIGITS = 6  # kept of a number: more than any result has
FACTOR = 2.0  # [-] from here on a change is told as a factor


def key_figures(site: Site) -> dict[str, dict[str, Value]]:
    """Figures by name (with unit) and item: K, fields, flow, plumes, discharge, what to do next.

    Parameters
    ----------
    site : Site
        With its derived tables.

    Returns
    -------
    dict of dict
        Numbers in the unit that the name ends in, to six digits, or a text; what is missing is
        left out.
    """
    found: dict[str, dict[str, Value]] = {}
    for figure, item, value in _every(site):
        if value is not None:
            kept = value if isinstance(value, str) else float(f"{float(value):.{DIGITS}g}")
            found.setdefault(figure, {})[item] = kept
    return found


def _every(site: Site) -> Iterator[tuple[str, str, Any]]:
    latest = _latest(site)
    for analyte, name in latest.items():
        yield "latest_round", analyte, name
    for row in records_of(site.table("interval_conductivity")):
        if row["grade"] != "rejected":
            yield "k_m_per_s", row["interval"], row["k_m_per_s"]
    for row in records_of(site.table("model")):
        for name in FIELD_FIGURES:
            yield f"field_{name}", _named(row["quantity"], row["round"], latest), row.get(name)
    for row in records_of(site.table("flow").head(1)):
        yield "gradient", "flow", row["gradient"]
        yield "azimuth_deg", "flow", row["azimuth_deg"]
    for row in records_of(site.table("plume_extent")):
        if row["surface"] == "any depth" and row["probability"] == 0.5:
            named = _named(row["analyte"], row["round"], latest)
            item = f"{named} above {row['criterion_ug_per_l']:g} ug/L"
            for name in ("area_m2", "volume_m3", "mass_kg"):
                yield f"plume_{name}", item, row.get(name)
    for row in records_of(site.table("discharge")):
        item = f"{_named(row['analyte'], row['round'], latest)} through {row['section']}"
        yield "discharge_g_per_day", item, row["discharge_g_per_day"]
    yield from _advice(site)
    for told in offered_by_all("key_figures"):
        yield from told(site)


def _advice(site: Site) -> Iterator[tuple[str, str, str]]:
    for row in records_of(site.table("next_test").head(MOST_TESTS)):
        zone = f"{row['borehole']} {row['top_m']:.1f} to {row['bottom_m']:.1f} m"
        yield "next_test", f"rank {row['rank']}", zone
    for row in records_of(site.table("next_borehole").head(MOST_TESTS)):
        place = f"{row['geometry'].x:.0f} {row['geometry'].y:.0f}, {row['depth_m']:.0f} m deep"
        yield "next_borehole", f"rank {row['rank']}", place


def _latest(site: Site) -> dict[str, str]:
    """The latest round or campaign of each analyte."""
    found: dict[str, tuple[str, str]] = {}
    for row in records_of(site.concentration):
        name = str(row["analyte"])
        at = (str(row["sampled_at"] or ""), str(row["round"]))
        found[name] = max(at, found.get(name, ("", "")))
    return {name: found[name][1] for name in sorted(found)}


def _named(quantity: str, round_name: str | None, latest: Mapping[str, str]) -> str:
    """An item: of the latest round without its name, so that it is the same after the next one."""
    if round_name in (None, latest.get(quantity)):
        return quantity
    return f"{quantity} {round_name}"


def differences(before: Figures, after: Figures) -> list[Row]:
    """Every figure that differs.

    Parameters
    ----------
    before, after : Mapping of Mapping
        As from `key_figures`.

    Returns
    -------
    list of tuple
        Figure, item, value before and after (None where there is none), and the change in words.
    """
    rows: list[Row] = []
    for figure in dict.fromkeys((*before, *after)):
        old, new = before.get(figure, {}), after.get(figure, {})
        for item in dict.fromkeys((*old, *new)):
            first, second = old.get(item), new.get(item)
            if first != second:
                rows.append((figure, item, first, second, change(figure, first, second)))
    return rows


def change(figure: str, before: Value | None, after: Value | None) -> str:
    """A change in words: new, gone, another, a difference of angles, a factor or per cent."""
    if before is None or after is None:
        return "new" if before is None else "gone"
    if isinstance(before, str) or isinstance(after, str):
        return "another"
    if figure in ANGLES:
        return f"{(after - before + 180) % 360 - 180:+.3g} deg"
    if before <= 0 or after <= 0:
        return f"{after - before:+.3g}"
    factor = after / before
    if 1 / FACTOR < factor < FACTOR:
        return f"{100 * (factor - 1):+.2g} %"
    return f"x {factor:.3g}"


def words(before: Figures, after: Figures) -> list[str]:
    """One line for each figure that differs: how many items are new, gone, changed, alike.

    Parameters
    ----------
    before, after : Mapping of Mapping
        As from `key_figures`.

    Returns
    -------
    list of str
        Lines; one that says so where nothing differs.
    """
    rows = differences(before, after)
    lines = [
        _line(figure, [r for r in rows if r[0] == figure], before.get(figure, {}))
        for figure in dict.fromkeys(row[0] for row in rows)
    ]
    return lines or ["No key figure differs."]


def _line(figure: str, rows: list[Row], before: Mapping[str, Value]) -> str:
    new = [r for r in rows if r[2] is None]
    gone = [r for r in rows if r[3] is None]
    changed = [r for r in rows if r[2] is not None and r[3] is not None]
    counts = ((new, "new"), (gone, "gone"), (changed, "changed"))
    told = [f"{len(group)} {word}" for group, word in counts if group]
    alike = len(before) - len(gone) - len(changed)
    if alike:
        told.append(f"{alike} alike")
    line = f"{figure}: {', '.join(told)}"
    largest = max(changed, key=_size, default=None)
    if largest is None:
        return line + "."
    return (
        f"{line}; largest: {largest[1]}, {_told(largest[2])} to {_told(largest[3])}, {largest[4]}."
    )


def _size(row: Row) -> float:
    """How large a change is, for comparison within one figure."""
    before, after = row[2], row[3]
    if not isinstance(before, float) or not isinstance(after, float):
        return 0.0
    if before > 0 and after > 0 and row[0] not in ANGLES:
        return max(after / before, before / after)
    return abs(after - before)


def _told(value: Value | None) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)
