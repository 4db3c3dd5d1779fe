"""Horizontal gradient and direction of flow: a plane through the heads of the boreholes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from geoprofile.engine.rows import finding, frame, joined
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.heads.too_old import finding_of, left_out
from geoprofile.site import Site

LEAST_FALL_M = 1e-3  # [m] no dip tells less (common practice, no source)
FLAT_TRIANGLE = 0.2  # [-] smaller over larger spread of the wells: nearly on one line
ARROW_SHARE = 0.15  # [-] of the wells' extent, the length at which the arrow is drawn


@dataclass(frozen=True)
class HeadPlane:
    """A plane through heads: gradient [-], azimuth of flow [deg] and their spread."""

    gradient: float
    gradient_sd: float
    azimuth_deg: float
    azimuth_sd_deg: float
    residual_sd_m: float
    roundness: float


def head_plane(xy: NDArray[np.float64], head: NDArray[np.float64]) -> HeadPlane:
    """The plane h = a + gx x + gy y by least squares; flow goes down its slope.

    Parameters
    ----------
    xy : Array, shape (n, 2) [m]
        Easting and northing, n >= 3.
    head : Array, shape (n,) [m]
        Static heads.

    Returns
    -------
    HeadPlane
        `gradient` [-], `azimuth_deg` from north clockwise; `roundness` [-] is 0 on a line.

    Notes
    -----
    Isotropic K only: in anisotropic ground water does not flow straight down the slope. With
    three wells there is no residual and the spread is not known (NaN).

    References
    ----------
    Heath (1983), USGS Water-Supply Paper 2220, three-point problem (from memory).

    Examples
    --------
    >>> plane = head_plane(np.array([[0.0, 0], [100, 0], [0, 100]]), np.array([1.0, 0.9, 1.0]))
    >>> round(plane.gradient, 6), round(plane.azimuth_deg, 3)
    (0.001, 90.0)
    """
    centred = xy - xy.mean(axis=0)  # eastings near 1e6 m would cost digits
    design = np.column_stack([np.ones(len(head)), centred])
    solution, *_ = np.linalg.lstsq(design, head, rcond=None)
    spread = np.linalg.svd(centred, compute_uv=False)
    gx, gy = float(solution[1]), float(solution[2])
    gradient = float(np.hypot(gx, gy))
    free = len(head) - 3
    residual = head - design @ solution
    variance = float(residual @ residual) / free if free > 0 else np.nan
    cov = variance * np.linalg.pinv(design.T @ design)[1:, 1:]
    down = np.array([gx, gy]) / gradient if gradient > 0 else np.zeros(2)
    across = np.array([-down[1], down[0]])
    return HeadPlane(
        gradient=gradient,
        gradient_sd=float(np.sqrt(down @ cov @ down)),
        azimuth_deg=float(np.degrees(np.arctan2(-gx, -gy)) % 360.0),
        azimuth_sd_deg=float(np.degrees(np.sqrt(across @ cov @ across) / gradient))
        if gradient > 0
        else np.nan,
        residual_sd_m=float(np.sqrt(variance)),
        roundness=float(spread[-1] / spread[0]) if spread[0] > 0 else 0.0,
    )


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """One gradient for the site, from the mean head of each borehole.

    Returns
    -------
    Mapping
        Table `flow`, one row or none; findings where the wells cannot carry the direction.
    """
    heads = site.table("head")
    rows, findings = _rows(heads, float(settings["days"]))
    progress(1, 1)
    return {
        "flow": frame("flow", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _rows(heads: pd.DataFrame, days: float) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    if heads.empty:
        return [], []
    recent, notes = _recent(heads, days)
    means = mean_heads(recent)
    old = left_out(heads, recent, days)
    findings = [] if old is None else [finding_of(old)]
    if len(means) < 3:
        return [], [*findings, _too_few(len(means))]
    if float(np.ptp(means["head"].to_numpy())) < LEAST_FALL_M:
        return [], [*findings, _level(len(means))]
    plane = head_plane(means[["x", "y"]].to_numpy(), means["head"].to_numpy())
    if plane.roundness < FLAT_TRIANGLE:
        notes.append("the boreholes lie nearly on one line")
        findings.append(_on_a_line())
    return [_row(plane, means, recent, notes)], findings


def recent_heads(heads: pd.DataFrame, days: float) -> pd.DataFrame:
    """The heads of the last `days` before the latest one.

    Parameters
    ----------
    heads : DataFrame
        Table `head`, not empty.
    days : float [d]
        Older heads are left out.

    Returns
    -------
    DataFrame
        By borehole those of zones if there are any, else of the open hole.
    """
    return _recent(heads, days)[0]


def recent_mean_heads(heads: pd.DataFrame, days: float) -> pd.DataFrame:
    """The mean head of every borehole over the last `days` before the latest head.

    Parameters
    ----------
    heads : DataFrame
        Table `head`, not empty.
    days : float [d]
        Older heads are left out.

    Returns
    -------
    DataFrame
        By borehole: `x`, `y`, `z` of where it was measured, and `head` [m].
    """
    return mean_heads(recent_heads(heads, days))


def mean_heads(heads: pd.DataFrame) -> pd.DataFrame:
    """The mean head of every borehole.

    Parameters
    ----------
    heads : DataFrame
        Table `head`.

    Returns
    -------
    DataFrame
        By borehole: `x`, `y`, `z` of where it was measured, and `head` [m].
    """
    shapes = heads.geometry.to_numpy()
    found = pd.DataFrame(
        {
            "borehole": heads["borehole"].to_numpy(),
            "x": shapely.get_x(shapes),
            "y": shapely.get_y(shapes),
            "z": shapely.get_z(shapes),
            "head": heads["head_m"].to_numpy(dtype=float),
        }
    )
    return found.groupby("borehole", sort=True).mean()


def _recent(heads: pd.DataFrame, days: float) -> tuple[pd.DataFrame, list[str]]:
    """The heads of the last `days`, by borehole the zones if there are any, else the open hole."""
    times = pd.to_datetime(heads["measured_at"], utc=True, format="ISO8601")
    last = times.max()
    if pd.isna(last):
        return heads, ["heads without a time"]
    kept = heads[(last - times) <= pd.Timedelta(days=days)]
    dropped = len(heads) - len(kept)
    notes = [f"{dropped} older head(s) left out"] if dropped else []
    span = (last - times[kept.index].min()).days
    if span > 7:
        notes.append(f"heads measured over {span} days")
    zones = kept["interval"].notna()
    with_zones = set(kept.loc[zones, "borehole"])
    return kept[zones | ~kept["borehole"].isin(with_zones)], notes


def _row(
    plane: HeadPlane, means: pd.DataFrame, recent: pd.DataFrame, notes: list[str]
) -> dict[str, Any]:
    centre = means[["x", "y", "z"]].mean().to_numpy()
    extent = float(np.ptp(means[["x", "y"]].to_numpy(), axis=0).max())
    angle = np.radians(plane.azimuth_deg)
    tip = centre + ARROW_SHARE * extent * np.array([np.sin(angle), np.cos(angle), 0.0])
    if np.isfinite(plane.residual_sd_m):
        notes = [*notes, f"heads lie {plane.residual_sd_m:.3f} m (sd) off the plane"]
    return {
        "measured_at": recent["measured_at"].dropna().max()
        if recent["measured_at"].notna().any()
        else None,
        "gradient": plane.gradient,
        "gradient_sd": plane.gradient_sd,
        "azimuth_deg": plane.azimuth_deg,
        "azimuth_sd_deg": plane.azimuth_sd_deg,
        "boreholes": len(means),
        "notes": joined(notes),
        "geometry": shapely.LineString([centre, tip]),
    }


def _too_few(count: int) -> dict[str, str]:
    return finding(
        "head",
        "",
        f"heads in {count} borehole(s): no direction of flow",
        what_to_do="Measure static heads in at least three boreholes that do not lie on one line.",
    )


def _level(count: int) -> dict[str, str]:
    return finding(
        "head",
        "",
        f"the heads of {count} boreholes agree to a millimetre: no direction of flow",
        what_to_do="Measure to the millimetre, at the same time, in boreholes farther apart.",
        severity="note",
    )


def _on_a_line() -> dict[str, str]:
    return finding(
        "head",
        "",
        "the boreholes with heads lie nearly on one line: the direction of flow is not reliable",
        what_to_do="Measure a static head in a borehole off that line.",
    )


PLUGIN = Layer(
    name="flow",
    summary="horizontal hydraulic gradient and direction of flow",
    reads=("head",),
    writes=("flow",),
    compute=compute,
    settings=(
        Setting("days", 400.0, "d", "Heads older than this before the latest are left out", low=0),
    ),
)
