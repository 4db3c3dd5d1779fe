"""The figure of the advice: where on the map, at which depths, and why."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from geoprofile.drawing import people, theme
from geoprofile.drawing.bars import Placer
from geoprofile.drawing.document import document_of
from geoprofile.drawing.map_frame import draw_areas, map_axes, scale_bar
from geoprofile.drawing.names import short_names
from geoprofile.drawing.symbols import PROPOSED, proposal_name
from geoprofile.errors import DataError
from geoprofile.products.advice.known import percent
from geoprofile.products.advice.together import quantities_of
from geoprofile.products.boreholes.figure import spread
from geoprofile.products.maps.grids import domain_of
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

MAP_IN = (0.65, 2.75, 4.6, 4.3)  # left, bottom, width, height [inch]
DEPTHS_IN = (6.0, 2.75, 5.4, 4.3)
MOST_HOLES = 16
MOST_WITH_GAINS = 10  # columns that leave room for the gain beside each rank
WORDS_AN_INCH = 17.3  # letters of a reason, of the width of the sheet
MOST_LINES = 12
KNOWN_FACE = "#d3d7db"
K = "K"


def advice_figure(
    site: Site, path: str | Path, formats: Sequence[str] = ("png", "svg")
) -> tuple[Path, ...]:
    """Draw the proposed tests and boreholes on a map and down the holes, with their reasons.

    Parameters
    ----------
    site : Site
        Tables next_test, next_borehole, remaining uncertainty, borehole, interval and area.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        Files written.

    Raises
    ------
    DataError
        Nothing is proposed.
    """
    tests, holes = site.table("next_test"), site.table("next_borehole")
    if tests.empty and holes.empty:
        raise DataError(
            "advice figure",
            "no next test and no next borehole",
            "at least one",
            "Run `geoprofile advise`, and read the findings for why nothing is proposed.",
        )
    with theme.sheet(theme.paper_landscape()) as figure:
        theme.title(
            figure,
            "What to test next",
            f"{site.name}   ·   best for its cost first, over all quantities   ·   T: test in an"
            " existing borehole, D: new borehole",
        )
        _map(figure, site)
        _depths(figure, site)
        _reasons(figure, _in_order(site), left_open(site))
        theme.foot(figure, [_settled(site)], document=document_of(site))
        return theme.save(figure, path, formats)


def left_open(site: Site) -> str:
    """What stopping now would leave open, and what the proposed tests are expected to leave.

    Parameters
    ----------
    site : Site
        Table remaining uncertainty.

    Returns
    -------
    str
        One sentence [m3]; empty where nothing was looked at.
    """
    parts = []
    for row in records_of(site.table("remaining_uncertainty")):
        now, then, ground = row["uncertain_m3"], row["expected_m3"], max(row["ground_m3"], 1e-300)
        if row["quantity"] == K:
            factor, after = (10.0 ** float(np.sqrt(v / ground)) for v in (now, then))
            parts.append(f"K known to a factor of {factor:.2f} ({after:.2f})")
        else:
            before, left, whole = (people.counted_plain(v, "m3") for v in (now, then, ground))
            unit = people.now().unit("m3").replace("3", "³")
            volumes = f"{before} ({left}) of {whole} {unit}"
            parts.append(f"{row['quantity']} on the wrong side of its criterion in {volumes}")
    if not parts:
        return ""
    return f"Stopping now leaves (after the tests proposed): {'; '.join(parts)}"


def depth_bars(site: Site) -> dict[str, list[tuple[float, float, str]]]:
    """What the depth panel shows: per borehole, stretches with "" for known or a rank.

    Parameters
    ----------
    site : Site
        Tables next_test and interval.

    Returns
    -------
    dict of str to list of (float, float, str)
        Top, bottom [m], and the label with the gain; holes in order of their best rank.
    """
    bars: dict[str, list[tuple[float, float, str]]] = {}
    for row in _records(site.table("next_test").sort_values("rank")):
        share = row["gain_share"]
        label = proposal_name("next_test", row["rank"]) + (
            f"\n{percent(share)}" if share == share else ""
        )
        bars.setdefault(row["borehole"], []).append((row["top_m"], row["bottom_m"], label))
    for row in _records(site.intervals):
        if row["borehole"] in bars:
            bars[row["borehole"]].append((row["top_m"], row["bottom_m"], ""))
    return dict(list(bars.items())[:MOST_HOLES])


def _map(figure: Figure, site: Site) -> None:
    """Areas, boreholes, and the ranked proposals."""
    axes, scale = map_axes(figure, domain_of(site).bounds, MAP_IN)
    draw_areas(axes, site)
    ranks: dict[str, list[str]] = {}
    for row in _records(site.table("next_test").sort_values("rank")):
        ranks.setdefault(row["borehole"], []).append(proposal_name("next_test", row["rank"]))
    new = _records(site.table("next_borehole").sort_values("rank"))
    labels = [
        (row["geometry"].x, row["geometry"].y, proposal_name("next_borehole", row["rank"]), True)
        for row in new
    ]
    for x, y, _, _ in labels:
        axes.plot(x, y, "D", ms=7, mfc=PROPOSED, mec=theme.INK, mew=1.2, zorder=8)
    names = short_names(map(str, site.boreholes["borehole"]))
    for row in _records(site.boreholes):
        name, x, y = row["borehole"], row["x"], row["y"]
        chosen = ranks.get(name)
        axes.plot(x, y, "o", ms=4, color=theme.INK, zorder=7)
        if chosen:
            axes.plot(x, y, "o", ms=9, mfc="none", mec=theme.INK, mew=1.1, zorder=7)
        words = names[name] if not chosen else f"{names[name]}: {', '.join(chosen[:4])}"
        labels.append((x, y, words, bool(chosen)))
    _labels(axes, labels)
    scale_bar(axes, scale)


def _labels(axes: Axes, labels: Sequence[tuple[float, float, str, bool]]) -> None:
    """Write beside every point where no other label or point stands; bold ones first."""
    placer = Placer(axes)
    west, south, high_x, high_y = axes.bbox.extents
    placer.room = (west, south, high_x, high_y)  # not over the numbers at its edges
    east = 0.016 * float(np.diff(axes.get_xlim())[0])
    north = 0.016 * float(np.diff(axes.get_ylim())[0])
    for x, y, _, _ in labels:
        corners = np.array([[x - east / 2, y - north / 2], [x + east / 2, y + north / 2]])
        placer.block(corners)
    for x, y, words, bold in sorted(labels, key=lambda label: not label[3]):
        places = [
            (x + east, y + north, "left", "bottom"),
            (x + east, y - north, "left", "top"),
            (x - east, y + north, "right", "bottom"),
            (x - east, y - north, "right", "top"),
            (x, y + 1.6 * north, "center", "bottom"),
            (x, y - 1.6 * north, "center", "top"),
            (x - east, y + 3 * north, "left", "bottom"),
            (x - east, y - 3 * north, "left", "top"),
            (x - east, y + 5 * north, "left", "bottom"),
            (x - east, y - 5 * north, "left", "top"),
        ]
        placer.put(words, places, size=6.8, weight="bold" if bold else "normal")


def _depths(figure: Figure, site: Site) -> None:
    """Known intervals and proposed tests down the holes, and the proposed boreholes beside them."""
    left, bottom, width, height = theme.on_sheet(figure, DEPTHS_IN)
    wide, tall = figure.get_size_inches()
    axes = figure.add_axes((left / wide, bottom / tall, width / wide, height / tall))
    columns = depth_bars(site)
    holes = site.table("next_borehole")
    crowded = len(columns) + len(holes) > MOST_WITH_GAINS
    deepest = 1.0
    for place, bars in enumerate(columns.values()):
        for top, low, label in sorted(bars, key=lambda bar: bar[2]):
            _bar(axes, place, top, low, label=label)
            deepest = max(deepest, low)
    for place, bars in enumerate(columns.values()):
        shown = [(t, b, label.split("\n")[0] if crowded else label) for t, b, label in bars]
        _ranks(axes, place, shown, least_gap_m=(0.024 if crowded else 0.042) * deepest)
    short = short_names(map(str, site.boreholes["borehole"]))
    names = [short.get(name, name) for name in columns]
    for row in _records(holes.sort_values("rank")):
        place = len(names)
        names.append(proposal_name("next_borehole", row["rank"]))
        axes.plot([place, place], [0.0, row["depth_m"]], color=theme.INK, lw=0.9, zorder=2)
        deepest = max(deepest, row["depth_m"])
        for part in str(row["intervals"]).split("; "):
            top, low = (float(words) for words in part.split("-"))
            _bar(axes, place, top, low, label=" ")
    axes.set_xlim(-0.7, len(names) - 0.3)
    axes.set_ylim(1.04 * deepest, 0.0)
    axes.set_xticks(range(len(names)), names, size=7)
    axes.xaxis.tick_top()
    axes.set_ylabel("Depth along the hole from ground [m]")
    people.length_axis(axes.yaxis)
    for side in ("right", "bottom"):
        axes.spines[side].set_visible(False)
    drawn = [label for bars in columns.values() for *_, label in bars]
    keys = (
        "grey: known interval" if "" in drawn else "",
        "framed: proposed",
        "%: of what is uncertain" if any("%" in d for d in drawn) and not crowded else "",
    )
    axes.text(
        1.0,
        0.0,
        "   ·   ".join(key for key in keys if key),
        transform=axes.transAxes,
        size=6.8,
        color=theme.QUIET,
        ha="right",
        va="top",
    )


def _bar(axes: Axes, place: int, top: float, bottom: float, *, label: str) -> None:
    """One stretch; a label makes it a proposal."""
    proposed = bool(label)
    axes.add_patch(
        Rectangle(
            (place - 0.2, top),
            0.4,
            bottom - top,
            facecolor=theme.PAPER if proposed else KNOWN_FACE,
            edgecolor=theme.INK if proposed else "none",
            linewidth=1.2 if proposed else 0.0,
            hatch="////" if label == " " else None,
            zorder=4 if proposed else 3,
        )
    )


def _ranks(
    axes: Axes, place: int, bars: Sequence[tuple[float, float, str]], *, least_gap_m: float
) -> None:
    """The ranks beside the bars of a hole, moved apart where they would touch."""
    named = sorted((0.5 * (top + low), label) for top, low, label in bars if label)
    for depth, (_, label) in zip(spread([d for d, _ in named], least_gap_m), named, strict=True):
        axes.text(
            place + 0.24,
            depth,
            label,
            size=6.2,
            linespacing=0.95,
            va="center",
            path_effects=list(theme.HALO),
            zorder=5,
        )


def _in_order(site: Site) -> list[tuple[str, dict[str, Any]]]:
    """Proposals by their names, in the order of the one list over all quantities."""
    listed = site.table("next_step")
    places = dict(zip(listed["label"], listed["number"], strict=True))
    rows = [
        (proposal_name(table, row["rank"]), row)
        for table in ("next_test", "next_borehole")
        for row in _records(site.table(table).sort_values("rank"))
    ]
    return sorted(rows, key=lambda named: places.get(named[0], len(rows) + 1))


def _reasons(figure: Figure, rows: Sequence[tuple[str, dict[str, Any]]], left: str) -> None:
    """What is left open, then the reasons, first proposals first, as many as the sheet holds."""
    most = int(WORDS_AN_INCH * figure.get_size_inches()[0])
    lines = [("", text) for text in textwrap.wrap(left, most)]
    for label, row in rows:
        where = quantities_of(row)
        if "top_m" in row:
            where += f", {row['borehole']} {row['top_m']:.1f}-{row['bottom_m']:.1f} m"
        words = textwrap.wrap(people.translated(f"{where}: {row['reason']}"), most)
        if len(lines) + len(words) > MOST_LINES:
            break
        lines += [(label if k == 0 else "", text) for k, text in enumerate(words)]
    for k, (label, text) in enumerate(lines):
        y = 2.32 / 8.27 - k * 0.0155
        figure.text(0.05, y, label, size=6.8, weight="bold", va="top")
        figure.text(0.078, y, text, size=6.8, va="top")


def _settled(site: Site) -> str:
    """How many proposals there are and of which quantities."""
    names = sorted({*site.table("next_test")["quantity"], *site.table("next_borehole")["quantity"]})
    count = len(site.table("next_test")) + len(site.table("next_borehole"))
    return (
        f"{count} proposals on {', '.join(str(n) for n in names)}. Maker's limits, local codes and"
        " licensed practice come first; clear services before drilling."
    )


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as mappings, whole numbers as such."""
    rows = [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]
    for row in rows:
        if "rank" in row:
            row["rank"] = int(np.asarray(row["rank"], dtype=float))
    return rows
