"""Profiles along one borehole: K or concentrations at their true depths, beside the ground."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import LogLocator, NullFormatter
from numpy.typing import NDArray

from geoprofile.drawing import marks, people, theme
from geoprofile.drawing.document import document_of
from geoprofile.drawing.levels import SHOWN_UNITS, tidy
from geoprofile.drawing.symbols import shown_unit
from geoprofile.errors import DataError
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.conductivity.figure_k_cells import draw_cells
from geoprofile.products.profile.figure_numbers import Profile, profile_of
from geoprofile.products.section.figure_legend import unit_styles
from geoprofile.products.section.logs import logged_units
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, SOIL_GAS
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
GRADE_FILL = marks.GRADES
BUILT = {
    "casing": {"facecolor": theme.QUIET, "edgecolor": theme.INK},
    "riser": {"facecolor": theme.FAINT, "edgecolor": theme.INK},
    "screen": {"facecolor": theme.PAPER, "edgecolor": theme.INK, "hatch": "-----"},
    "open hole": {"facecolor": theme.PAPER, "edgecolor": theme.INK, "linestyle": ":"},
    "seal": {"facecolor": theme.GROUND, "edgecolor": theme.INK},
    "filter pack": {"facecolor": theme.PAPER, "edgecolor": theme.INK, "hatch": "...."},
}
MOST_PANELS = 4
K_CAUTION = (
    "K of an isolated interval is a mean over its length. A grade is no licence: have tests judged "
    "by someone qualified before they carry a design."
)


def k_profile(
    site: Site, borehole: str, path: str | Path, formats: Sequence[str] = ("png", "svg")
) -> tuple[Path, ...]:
    """Draw K along a borehole.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, lithology, interval, interval_conductivity; field.
    borehole : str
        Which one.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such borehole.
    """
    return profile_figure(site, borehole, ["K"], path, formats=formats)


def chemistry_profile(
    site: Site, borehole: str, path: str | Path, formats: Sequence[str] = ("png", "svg")
) -> tuple[Path, ...]:
    """Draw the concentrations of the latest round along a borehole, a panel per analyte and medium.

    Parameters
    ----------
    site : Site
        Tables as for `k_profile`, and concentration.
    borehole : str
        Which one.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such borehole, or no analyte.
    """
    names = _substances(site, borehole)
    if not names:
        raise DataError("chemistry profile", "no concentration", "results", "Load samples first.")
    return profile_figure(site, borehole, names[:MOST_PANELS], path, formats=formats)


def _substances(site: Site, borehole: str) -> list[str]:
    """What was looked for, water before soil gas, each by name; first what was in this hole."""
    table = site.table("concentration")
    pairs = {(str(r["medium"]) == SOIL_GAS, str(r["analyte"])): False for r in records_of(table)}
    for row in records_of(table[table["borehole"] == borehole]):
        pairs[str(row["medium"]) == SOIL_GAS, str(row["analyte"])] = True
    here = [pair for pair in sorted(pairs) if pairs[pair]] or sorted(pairs)
    return [name + (IN_GAS if gas else "") for gas, name in here]


def profile_figure(
    site: Site,
    borehole: str,
    quantities: Sequence[str],
    path: str | Path,
    *,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw quantities side by side along a borehole.

    Parameters
    ----------
    site : Site
        Tables as for `k_profile`, and concentration.
    borehole : str
        Which one.
    quantities : sequence of str
        K and analytes, at most five.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such borehole.
    """
    profiles = [profile_of(site, borehole, q) for q in quantities]
    with theme.sheet(theme.paper_portrait()) as figure:
        draw_profiles(figure, site, profiles)
        return theme.save(figure, path, formats)


def draw_profiles(figure: Figure, site: Site, profiles: Sequence[Profile]) -> None:
    """Put profiles of one borehole on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, upright.
    site : Site
        Gives ground and construction.
    profiles : sequence of Profile
        All of the same borehole.
    """
    first, cells = profiles[0], ""
    bottom, top, left, right = 0.13, 0.84, 0.1, 0.9
    ground = figure.add_axes((left, bottom, 0.14, top - bottom))
    _draw_ground(ground, site, first)
    start, gap = left + 0.165, 0.055
    width = (right - start - gap * (len(profiles) - 1)) / len(profiles)
    for k, profile in enumerate(profiles):
        axes = figure.add_axes((start + k * (width + gap), bottom, width, top - bottom))
        _draw_values(axes, profile)
        if profile.quantity == "K":
            cells = draw_cells(axes, site, profile.borehole)
    what = "hydraulic conductivity K" if first.quantity == "K" else "concentrations"
    rounds = sorted({p.round for p in profiles if p.round})
    length = f"{people.few(first.length_m, 'm', 4)} {people.now().unit('m')}"
    sub = f"{site.name}; {length} along the hole"
    theme.title(
        figure, f"Borehole {first.borehole}: {what}", sub + "".join(f", round {r}" for r in rounds)
    )
    notes = ["Depth along the hole from ground. Bars: 95 % interval of the value of each zone."]
    if cells:
        notes.append(cells)
    notes += [words for words in [_parts_words(site, profiles)] if words]
    if any(p.field is not None for p in profiles):
        notes.append("Line and tint: median and 10 to 90 % of the model, which is smoother.")
    _elevations(axes, site, first)
    caution = K_CAUTION if first.quantity == "K" else theme.CAUTION_SHORT
    theme.foot(figure, notes, caution, document=document_of(site))


def _parts_words(site: Site, profiles: Sequence[Profile]) -> str:
    """How a value of soil gas reads in ppmv, for the substances whose molar mass is told."""
    told = []
    rows = records_of(site.table("soil_gas"))
    for profile in profiles:
        name = profile.quantity.removesuffix(IN_GAS)
        same = [r for r in rows if r["analyte"] == name and r["molar_mass_g_per_mol"]]
        if profile.unit != GAS_UNIT or not same:
            continue
        row = same[0]
        amount, parts = row["value_ug_per_m3"], row["value_ppmv"]
        if amount is None:
            amount, parts = row["limit_ug_per_m3"], row["limit_ppmv"]
        if amount and parts:
            told.append(
                f"{name}: 1 ppmv is {amount / parts:.4g} {shown_unit(GAS_UNIT)} "
                f"({row['molar_mass_g_per_mol']:g} g/mol, {row['temperature_c']:g} °C, "
                f"{row['pressure_kpa']:g} kPa)"
            )
    return "; ".join(told) + "." if told else ""


def _elevations(axes: Axes, site: Site, profile: Profile) -> None:
    """Elevations at the right, at the depths of the left axis, along the path of the hole."""
    depths = [d for d in axes.get_yticks() if 0 <= d <= profile.length_m]
    z = paths_of(site)[profile.borehole].at(depths)[:, 2]
    right = axes.twinx()
    right.set_ylim(axes.get_ylim())
    right.set_yticks(depths, [people.plain(value, "m", 1) for value in z])
    datum = f", {site.vertical_datum}" if site.vertical_datum else ""
    right.set_ylabel(f"Elevation [{people.now().unit('m')}{datum}]")


def _draw_ground(axes: Axes, site: Site, profile: Profile) -> None:
    """Units, construction and water level beside the depth axis."""
    axes.set_ylim(profile.length_m * 1.01, -0.01 * profile.length_m)
    axes.set_xlim(0, 1)
    axes.set_xticks([0.31, 0.82], ["logged", "installed"])
    axes.tick_params(axis="x", length=0, labeltop=True, labelbottom=False)
    axes.set_ylabel("Depth along the hole [m]")
    people.length_axis(axes.yaxis)
    units = unit_styles(logged_units(site))
    for table, x, wide in (("lithology", 0.0, 0.62), ("construction", 0.66, 0.32)):
        rows = site.table(table)
        rows = rows[rows["borehole"] == profile.borehole]
        for k, row in enumerate(rows.sort_values("top_m").to_dict("records")):
            style = (
                units.get(str(row["unit"]), {"facecolor": theme.PAPER})
                if table == "lithology"
                else BUILT[row["kind"]]
            )
            height = row["bottom_m"] - row["top_m"]
            axes.add_patch(Rectangle((x, row["top_m"]), wide, height, linewidth=0.5, **style))
            if table == "lithology" and height > 0.025 * profile.length_m:
                axes.text(
                    x + wide / 2,
                    row["top_m"] + height / 2,
                    str(row["unit"]),
                    size=5.8,
                    ha="center",
                    va="center",
                    wrap=True,
                    path_effects=theme.HALO,
                    zorder=5 + 0 * k,
                )
    if profile.water_m is not None:
        axes.plot([0, 1], [profile.water_m] * 2, color=theme.WATER, linewidth=1.2)
        axes.plot(
            [0.9],
            [profile.water_m],
            "v",
            markersize=6,
            markerfacecolor=theme.PAPER,
            markeredgecolor=theme.WATER,
        )


def _draw_values(axes: Axes, profile: Profile) -> None:
    """Values with their spread at the depths of their intervals, on a logarithmic axis."""
    axes.set_ylim(profile.length_m * 1.01, -0.01 * profile.length_m)
    axes.set_xscale("log")
    left, right = _span(profile)
    axes.set_xlim(left, right)
    axes.xaxis.set_major_locator(LogLocator(numticks=8))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.grid(axis="x", color=theme.FAINT, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", labelleft=False)
    axes.tick_params(axis="x", labeltop=True, top=True)
    unit = SHOWN_UNITS.get(profile.unit, profile.unit)
    name = "K" if profile.quantity == "K" else profile.quantity
    axes.set_xlabel(f"{name} [{unit}]")
    field = profile.field
    if field is not None:
        axes.fill_betweenx(field.depth_m, field.low, field.high, color=theme.FAINT, alpha=0.6)
        axes.plot(field.median, field.depth_m, color=theme.QUIET, linewidth=1.2)
    if profile.criterion is not None:
        axes.axvline(profile.criterion, **marks.CRITERION.figure)
        axes.text(
            profile.criterion,
            profile.length_m,
            f" criterion {tidy(profile.criterion)}",
            rotation=90,
            size=6.5,
            color=theme.STOP,
            va="bottom",
            ha="right",
            path_effects=theme.HALO,
        )
    for row in profile.rows:
        _draw_row(axes, row, left)
    if not profile.rows:
        axes.text(
            0.5,
            0.5,
            "no result in this hole",
            transform=axes.transAxes,
            ha="center",
            color=theme.QUIET,
        )
    _grades(axes, profile)


def _draw_row(axes: Axes, row: dict[str, Any], left: float) -> None:
    """One interval: a bar from its low to its high end, or an open one up to its limit."""
    height = row["bottom_m"] - row["top_m"]
    if row["value"] is None:
        limit = row["limit"]
        if limit is not None:
            axes.add_patch(
                Rectangle(
                    (left, row["top_m"]),
                    limit - left,
                    height,
                    hatch="//////",
                    facecolor=theme.PAPER,
                    edgecolor=theme.INK,
                    linewidth=0.7,
                )
            )
        return
    low, high = row["low"] or row["value"], row["high"] or row["value"]
    fill = GRADE_FILL.get(row["grade"], theme.WATER) if row["quantity"] == "K" else marks.MASS
    axes.add_patch(
        Rectangle(
            (low, row["top_m"]), high - low, height, facecolor=fill, alpha=0.35, edgecolor="none"
        )
    )
    axes.plot(
        [row["value"]] * 2,
        [row["top_m"], row["bottom_m"]],
        color=theme.INK,
        linewidth=2.0,
        solid_capstyle="butt",
        zorder=5,
    )
    axes.add_patch(
        Rectangle(
            (low, row["top_m"]),
            high - low,
            height,
            facecolor="none",
            edgecolor=theme.INK,
            linewidth=0.5,
        )
    )


def _grades(axes: Axes, profile: Profile) -> None:
    """Grades that occur, as a small legend."""
    from matplotlib.patches import Patch

    handles = []
    if profile.quantity == "K":
        for grade in dict.fromkeys(str(r["grade"]) for r in profile.rows if r["grade"]):
            handles.append(
                Patch(facecolor=GRADE_FILL[grade], alpha=0.35, edgecolor=theme.INK, label=grade)
            )
    elif any(r["value"] is None for r in profile.rows):
        handles.append(
            Patch(
                facecolor=theme.PAPER,
                hatch="//////",
                edgecolor=theme.INK,
                label="not detected: below the limit",
            )
        )
    if handles:
        axes.legend(
            handles=handles,
            loc="lower right",
            bbox_to_anchor=(1.0, 1.03),
            ncols=3,
            borderaxespad=0,
            handlelength=1.4,
        )


def _span(profile: Profile) -> tuple[float, float]:
    """Limits of the axis: whole decades round everything shown."""
    known = [v for r in profile.rows for v in (r["low"], r["high"], r["value"], r["limit"]) if v]
    if profile.field is not None and len(profile.field.depth_m):
        known += [float(profile.field.low.min()), float(profile.field.high.max())]
    if profile.criterion:
        known += [0.9 * profile.criterion, 1.1 * profile.criterion]  # its line stands off the frame
    if not known:
        return 0.1, 10.0
    limits = [r["limit"] for r in profile.rows if r["limit"]]
    least = min(known) if profile.quantity == "K" or not limits else min(*known, min(limits) / 2)
    return 10.0 ** np.floor(np.log10(least)), 10.0 ** np.ceil(np.log10(max(known) * 1.01))
