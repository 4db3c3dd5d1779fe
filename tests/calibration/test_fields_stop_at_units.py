"""K of layered ground, known everywhere: what keeping the units apart is worth."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.spatial.distance import cdist

from geoprofile.plugins import no_progress
from geoprofile.products.model.fitted import field_of
from geoprofile.products.model.model import PLUGIN as MODEL
from geoprofile.products.units.geology import PLUGIN as GEOLOGY
from geoprofile.site import Site

CRS = "EPSG:32628"
EXTENT_M, DEPTH_M, LENGTH_M = 200.0, 24.0, 2.0
UNITS = ("sand", "silt", "gravel")
PIECES = 10  # of an interval, over which K is averaged as a test does
SITES = 16

pytestmark = pytest.mark.calibration


def contacts(rng):
    """Two surfaces that dip and wave, as functions of x and y; the silt pinches out in places."""
    first, second = rng.uniform(7.0, 10.0), rng.uniform(1.0, 5.0)
    dip, wave, phase = rng.uniform(-0.02, 0.02, 2), rng.uniform(0.3, 1.5), rng.uniform(0, 6.28)

    def depths(xy):
        bend = wave * np.sin(xy[:, 0] / 40.0 + phase)
        upper = first + xy @ dip + bend
        thick = second + 1.5 * np.sin(xy[:, 1] / 50.0 + phase)
        return np.column_stack([upper, upper + np.maximum(thick, 0.0)])

    return depths


def ground(rng, contrast):
    """Depths of the contacts, and log10 of K at places, one field within each unit."""
    depths, levels = contacts(rng), -5.0 + contrast * rng.normal(size=3)
    sill, lengths = rng.uniform(0.05, 0.3), np.array([40.0, 20.0, 2.0])

    def log_k(xyz):
        number = ((-xyz[:, 2:]) > depths(xyz[:, :2])).sum(1)
        drawn = np.empty(len(xyz))
        for k in range(3):
            rows = np.flatnonzero(number == k)
            gap = cdist(xyz[rows] / lengths, xyz[rows] / lengths)
            factor = np.linalg.cholesky(sill * np.exp(-gap) + 1e-8 * np.eye(len(rows)))
            drawn[rows] = levels[k] + factor @ rng.normal(size=len(rows))
        return drawn

    return depths, log_k


def site_of(seed, contrast):
    """A site of 8 to 15 holes with its logs and tests, and places with the K that is there."""
    rng = np.random.default_rng(seed)
    depths, log_k = ground(rng, contrast)
    xy = rng.uniform(0.0, EXTENT_M, (int(rng.integers(8, 16)), 2))
    names = [f"H{i}" for i in range(len(xy))]
    tops = np.arange(1.0, DEPTH_M - LENGTH_M, 3.0)
    rows = [(f"{h}-{t:g}", h, t, t + LENGTH_M) for h in names for t in tops]
    intervals = pd.DataFrame(rows, columns=["interval", "borehole", "top_m", "bottom_m"])
    middles = intervals["top_m"].to_numpy()[:, None] + LENGTH_M * (np.arange(PIECES) + 0.5) / PIECES
    spots = np.repeat(xy, len(tops) * PIECES, axis=0)
    measured = np.column_stack([spots, -middles.ravel()])
    places = rng.uniform([0, 0, -DEPTH_M], [EXTENT_M, EXTENT_M, 0], (300, 3))
    drawn = log_k(np.vstack([measured, places]))
    # flow into the hole is horizontal: the zone's K is the mean of its pieces'
    k = (10.0 ** drawn[: len(measured)]).reshape(-1, PIECES).mean(1)
    k = k * 10.0 ** (0.1 * rng.normal(size=len(k)))
    table = intervals.assign(k_m_per_s=k, sd_log10_k=0.1, grade="accepted", notes=None)
    holes = pd.DataFrame({"borehole": names, "x": xy[:, 0], "y": xy[:, 1]})
    points = [shapely.Point(x, y, 0.0) for x, y in xy]
    tables = {
        "borehole": gpd.GeoDataFrame(
            holes.assign(ground_elevation_m=0.0, depth_m=DEPTH_M), geometry=points, crs=CRS
        ),
        "lithology": _logs(names, depths(xy)),
        "interval": intervals.assign(isolation="straddle"),
        "interval_conductivity": table,
    }
    site = Site("layers", CRS, "local datum", tables=tables)
    made = GEOLOGY.compute(site, {"units": list(UNITS)}, no_progress)
    return site.with_tables({"hydro_unit": made["hydro_unit"]}), places, drawn[len(measured) :]


def _logs(names, depths):
    """What the logs of the holes say, to a centimetre."""
    rows = []
    for name, (upper, lower) in zip(names, np.round(depths, 2), strict=True):
        ends = [(0.0, upper, "sand"), (upper, lower, "silt"), (lower, DEPTH_M, "gravel")]
        rows += [(name, top, bottom, unit) for top, bottom, unit in ends if bottom > top]
    return pd.DataFrame(rows, columns=["borehole", "top_m", "bottom_m", "unit"])


def scores(contrast):
    """Log loss and 80 % coverage of K at places nobody measured, per site and way."""
    found = []
    for seed in range(SITES):
        site, places, truth = site_of(seed, contrast)
        for way in ("none", "auto", "units"):
            settings = {s.name: s.default for s in MODEL.settings} | {"geology": way}
            made = MODEL.compute(site, settings, no_progress)["model"]
            at = field_of(site.with_tables({"model": made}), "K").at(places)
            z = (truth - at.log10_mean) / at.log10_sd
            loss = 0.5 * z**2 + np.log(at.log10_sd * np.sqrt(2.0 * np.pi))
            inside = np.abs(z) < 1.2816
            taken = made["geology"].iloc[0] == "units"
            found.append((seed, way, loss.mean(), inside.mean(), taken))
    table = pd.DataFrame(found, columns=["site", "way", "loss", "inside", "taken"])
    print(f"\nlevels {contrast:g} decades apart (sd), {SITES} sites")
    print(table.groupby("way")[["loss", "inside", "taken"]].mean().round(3))
    worst = table.pivot(index="site", columns="way", values="loss")
    print("sites that gain:", int((worst["units"] < worst["none"]).sum()))
    return table.groupby("way").mean(numeric_only=True), worst


def test_units_predict_layered_ground_better():
    """Units a decade apart: log loss falls on most sites, by 0.12 or more on average."""
    mean, each = scores(1.0)
    assert mean.loc["units", "loss"] < mean.loc["none", "loss"] - 0.12
    assert mean.loc["auto", "loss"] < mean.loc["none", "loss"] - 0.12
    assert (each["units"] < each["none"]).mean() > 0.75
    assert 0.70 < mean.loc["units", "inside"] < 0.90


def test_units_that_are_alike_cost_little():
    """Where the units have one level, keeping them apart loses less than 0.1, choosing 0.05."""
    mean, _ = scores(0.0)
    assert mean.loc["units", "loss"] < mean.loc["none", "loss"] + 0.1
    assert mean.loc["auto", "loss"] < mean.loc["none", "loss"] + 0.05
