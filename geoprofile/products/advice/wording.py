"""Advice in words: why a test or a borehole there, and what to mind before going out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import tidy
from geoprofile.products.advice.bounds import beyond, side_in_words
from geoprofile.products.advice.known import Known, percent, short

if TYPE_CHECKING:
    from geoprofile.kriging import Parameters

Array = NDArray[np.float64]


def why_chemistry(
    known: Sequence[Known], centre: Array, *, criterion: float, chance: float, frame: Parameters
) -> str:
    """Which measured neighbours the edge of the plume lies between, or where none bounds it.

    Parameters
    ----------
    known : sequence of Known
        What was measured.
    centre : Array, shape (3,) [m]
        Middle of the proposed interval.
    criterion : float [unit of the field]
        The user's.
    chance : float [-]
        Probability now of lying above the criterion there.
    frame : Parameters
        Correlation lengths, which say who is near.

    Returns
    -------
    str
        A clause without the gain.
    """
    ordered = _by_nearness(known, centre, frame)
    above = next((k for k in ordered if k.side(criterion) == "above"), None)
    clean = [k for k in ordered if k.side(criterion) == "below"]
    below = next(iter(clean), None)
    if above is not None and below is not None:
        step = in_lengths(centre - above.xyz, frame)
        others = in_lengths(np.array([k.xyz for k in clean]) - above.xyz, frame)
        facing = [k for k, is_beyond in zip(clean, beyond(step, others), strict=True) if is_beyond]
        if not facing:
            side = side_in_words(centre - above.xyz, step)
            return (
                f"not bounded {side}: nothing below the criterion was measured on that side of"
                f" {above.words}; chance of exceeding here now {100 * chance:.0f} %"
            )
        below = facing[0]
        between = float(np.linalg.norm(above.xyz - below.xyz))
        return (
            f"between {above.words} and {below.words}: the edge lies somewhere in"
            f" {tidy(float(f'{between:.2g}'))} m; chance of exceeding here now {100 * chance:.0f} %"
        )
    if not ordered:
        return f"nothing measured near; chance of exceeding here now {100 * chance:.0f} %"
    side = "above" if above is not None else "below" if below is not None else "near"
    nearest = above or below or ordered[0]
    return (
        f"all results lie {side} the criterion, the nearest at {nearest.words}: the edge is not"
        f" found yet; chance of exceeding here now {100 * chance:.0f} %"
    )


def why_hydraulic(
    known: Sequence[Known], centre: Array, *, log10_sd: float, frame: Parameters
) -> str:
    """Which measured K lie next to the proposed test, and how unsure K is there.

    Parameters
    ----------
    known : sequence of Known
        What was measured.
    centre : Array, shape (3,) [m]
        Middle of the proposed interval.
    log10_sd : float [-]
        Standard deviation of log10 K there now.
    frame : Parameters
        Correlation lengths, which say who is near.

    Returns
    -------
    str
        A clause without the gain.
    """
    near = _by_nearness(known, centre, frame)[:2]
    beside = " and ".join(k.words for k in near) or "nothing"
    factor = short(10.0**log10_sd)
    return f"K is known to a factor of {factor} here; nearest tests: {beside}"


def expected_cut(share: float, what: str, *, subject: str = "this test") -> str:
    """What a test is expected to teach, in words.

    Parameters
    ----------
    share : float [-]
        Gain as a share of the present uncertainty.
    what : str
        What becomes smaller.
    subject : str
        What makes it smaller.

    Returns
    -------
    str
        For example `this test is expected to cut the volume of uncertain classification by 14 %`.
    """
    return f"{subject} is expected to cut {what} by {percent(share)}"


def per_cost(gain: float, price: float, *, layer: str, has_criterion: bool) -> str:
    """Gain per unit of cost, which compares tests and boreholes.

    Parameters
    ----------
    gain : float [m3]
        Of the proposal; for K weighted by variance.
    price : float [units of cost]
        What it costs.
    layer : str
        Whose settings say what work costs.
    has_criterion : bool
        Whether the quantity has a criterion.

    Returns
    -------
    str
        For example `15 m³ per unit of cost (16, costs of [next_borehole])`.
    """
    unit = "m³" if has_criterion else "m³ times variance"
    return f"{short(gain / price)} {unit} per unit of cost ({short(price)}, costs of [{layer}])"


def expected_of_batch(count: int, noun: str, cut: float, *, what: str = "that volume") -> str:
    """What all proposals together are expected to teach.

    Parameters
    ----------
    count : int [-]
        Number of proposals.
    noun : str
        What they are, in the singular.
    cut : float [-]
        Share of what is uncertain now.
    what : str
        What becomes smaller.

    Returns
    -------
    str
        A clause.
    """
    if count == 0:
        return f"no further {noun} is expected to change that"
    them = f"the one {noun} proposed is" if count == 1 else f"the {count} {noun}s proposed are"
    return f"{them} expected to cut {what} by {percent(cut)}"


def stopping(analyte: str, open_m3: float, all_m3: float) -> str:
    """What is left open about an analyte if nobody tests any more.

    Parameters
    ----------
    analyte : str
        Which.
    open_m3, all_m3 : float [m3]
        Expected volume on the wrong side of the criterion, and all ground looked at.

    Returns
    -------
    str
        A clause.
    """
    return (
        f"stopping now leaves about {short(open_m3)} of {short(all_m3)} m³ of ground on the wrong"
        f" side of the criterion for {analyte} on the map"
    )


def stopping_hydraulic(variance: float) -> str:
    """What is left open about K if nobody tests any more.

    Parameters
    ----------
    variance : float [-]
        Mean variance of log10 K over the ground.

    Returns
    -------
    str
        A clause.
    """
    factor = short(10.0 ** math.sqrt(variance))
    return f"stopping now leaves K known to a factor of {factor}, typically"


def in_lengths(points: Array, frame: Parameters) -> Array:
    """Points counted in correlation lengths along flow, across it and vertically.

    Parameters
    ----------
    points : Array, shape (n, 3) [m]
        Easting, northing, elevation.
    frame : Parameters
        Azimuth and correlation lengths; the dip is left out.

    Returns
    -------
    Array, shape (n, 3) [-]
        Distances between rows are in correlation lengths.
    """
    turn = math.radians(frame.azimuth_deg)
    axes = np.array(
        [
            [math.sin(turn), math.cos(turn), 0.0],
            [math.cos(turn), -math.sin(turn), 0.0],
            [0.0, 0.0, 1.0],
        ]
    )
    lengths = np.array([frame.length_along_m, frame.length_across_m, frame.length_vertical_m])
    return np.asarray(points @ axes.T / lengths)


def _by_nearness(known: Sequence[Known], centre: Array, frame: Parameters) -> list[Known]:
    """Nearest first, distances counted in correlation lengths."""
    if not known:
        return []
    places = in_lengths(np.array([k.xyz for k in known]) - centre, frame)
    order = np.argsort(np.linalg.norm(places, axis=1), kind="stable")
    return [known[i] for i in order]
