"""What tests and heads of one borehole say against each other; nothing but findings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from geoprofile import hydraulics
from geoprofile.engine.rows import finding, frame
from geoprofile.errors import DataError
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.conductivity.inputs import hydraulic_tests
from geoprofile.site import Site

SLUG = ("falling head", "rising head")


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Repeats against each other, zones against the whole hole.

    Notes
    -----
    The head of an open hole is the mean of the heads of its zones, weighted by transmissivity, and
    its transmissivity is the sum of theirs, if the zones cover the hole: a mismatch means a zone
    that was missed, a bypass, or heads that had not recovered (common practice, no source).
    """
    findings = [
        *_repeats(site),
        *_open_hole_heads(site, float(settings["head_difference_m"])),
        *_whole_hole(site, float(settings["transmissivity_factor"])),
    ]
    progress(1, 1)
    return {"finding": frame("finding", findings, site.crs)}


def _repeats(site: Site) -> list[dict[str, str]]:
    """Normalised heads of repeats that do not coincide."""
    by_interval: dict[str, list[HydraulicTest]] = {}
    for _, test in hydraulic_tests(site):
        if not isinstance(test, DataError) and test.kind in SLUG and test.elapsed_s.size:
            by_interval.setdefault(test.interval, []).append(test)
    findings = []
    for interval, tests in by_interval.items():
        if len(tests) < 2:
            continue
        check = hydraulics.repeat_check(tests)
        if check.coincide is False or check.depends_on_displacement:
            findings.append(
                finding(
                    "interval",
                    interval,
                    "; ".join(check.notes) or "repeats do not coincide",
                    what_to_do="Look at the repeats in one figure, and test again.",
                )
            )
    return findings


def _zones(site: Site) -> pd.DataFrame:
    """Zones with a K, their isolation, and their latest head where it is known."""
    known = site.conductivity[site.conductivity["grade"] != "rejected"]
    zones = known.drop(columns="geometry").merge(
        site.intervals[["interval", "isolation"]], on="interval"
    )
    heads = site.table("head")
    latest = heads.sort_values("measured_at").dropna(subset=["interval"])
    latest = latest.drop_duplicates("interval", keep="last")[["interval", "head_m"]]
    return zones.merge(latest, on="interval", how="left")


def _open_hole_heads(site: Site, allowed_m: float) -> list[dict[str, str]]:
    zones = _zones(site).dropna(subset=["head_m", "transmissivity_m2_per_s"])
    heads = site.table("head")
    whole = heads[heads["interval"].isna()].sort_values("measured_at")
    whole = whole.drop_duplicates("borehole", keep="last")
    open_heads = dict(zip(whole["borehole"], whole["head_m"].astype(float), strict=True))
    findings = []
    for hole, rows in zones.groupby("borehole", sort=True):
        if len(rows) < 2 or hole not in open_heads:
            continue
        weight = rows["transmissivity_m2_per_s"].to_numpy(dtype=float)
        mean = float(np.average(rows["head_m"].to_numpy(dtype=float), weights=weight))
        apart = open_heads[str(hole)] - mean
        if abs(apart) > allowed_m:
            findings.append(
                finding(
                    "head",
                    str(hole),
                    f"open-hole head {apart:+.2f} m off the mean of the zones' heads weighted by "
                    "transmissivity",
                    what_to_do="A zone may be missing, a packer leaking or a head not recovered.",
                )
            )
    return findings


def _whole_hole(site: Site, factor: float) -> list[dict[str, str]]:
    """A test of the whole open hole against the sum of the zones inside it."""
    zones = _zones(site).dropna(subset=["transmissivity_m2_per_s"])
    findings = []
    for row in zones[zones["isolation"] == "open hole"].itertuples():
        inside = zones[
            (zones["borehole"] == row.borehole)
            & (zones["isolation"] != "open hole")
            & (zones["top_m"] >= row.top_m)
            & (zones["bottom_m"] <= row.bottom_m)
        ]
        total = float(inside["transmissivity_m2_per_s"].sum())
        whole = float(str(row.transmissivity_m2_per_s))
        if len(inside) and not whole / factor <= total <= whole * factor:
            findings.append(
                finding(
                    "interval",
                    str(row.interval),
                    f"transmissivity of the whole hole {whole:.2g} m2/s, sum of {len(inside)} "
                    f"zones {total:.2g} m2/s",
                    what_to_do="Look for a missed zone, a bypass past a packer, or a skin.",
                )
            )
    return findings


PLUGIN = Layer(
    name="consistency",
    summary="findings where repeats, zones and whole holes contradict each other",
    reads=(
        "borehole",
        "survey",
        "construction",
        "packer",
        "interval",
        "test",
        "reading",
        "pressure_step",
        "step_flow",
        "pipe_loss",
        "interval_conductivity",
        "head",
    ),
    writes=(),
    compute=compute,
    settings=(
        Setting(
            "head_difference_m",
            0.3,
            "m",
            "Difference of the open-hole head from the weighted mean that is reported",
            low=0,
        ),
        Setting(
            "transmissivity_factor",
            3.0,
            "1",
            "Factor between whole hole and sum of zones that is reported",
            low=1,
        ),
    ),
)
