"""K when something unseen adds to P: a skin, or a Kv/Kh that is another than thought.

A ring of conductivity f K out to rs adds s = (1/f - 1) ln(rs/rw) to P (Hawkins 1956); another Kv/Kh
adds the difference of P. Readings know the sum at best, by their bend, and often not at all.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from geoprofile.hydraulics.curve_table import Table
from geoprofile.hydraulics.curves import CurveFit, Well, fit_curve
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.ring import ring
from geoprofile.hydraulics.tests import Array

RINGS = (4.0, 0.5, 0.22, 0.12)  # [-] K of a ring over that of the ground, out to 2 rw
LEAST_SHARE = 0.25  # [-] of P that is left whatever is taken off
BASE_P = 2.0  # [-] least P of the curve between the fits
STORAGE_RULES = 0.75  # [-] P in effect over steady P below which Kv/Kh is tried out
LESS = 5.0  # [-] Kv/Kh is tried that many times lower


def shifts(
    treated: Treated, well: Well, table: Table, fit: CurveFit, log_ratio: float
) -> tuple[Array, Array, Array]:
    """K and the evidence of a recovery for several lengths added to P.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m].
    well : Well [-]
        Radii and length [m].
    table : Table [-]
        The geometry.
    fit : CurveFit [-]
        The fit with nothing added.
    log_ratio : float [-]
        P in effect.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        Added to P; ln K [m/s]; ln of the evidence less that with nothing added.

    References
    ----------
    Hawkins (1956), Transactions of the AIME 207, 356-357, from memory; rings with storage (`ring`).
    """
    found = [(0.0, fit.ln_k, 0.0)]
    for order in (RINGS[:1], RINGS[1:]):
        start, last = fit, 0.0
        for f in order:
            one = ring(f, table.rays.point.size)
            below = max(log_ratio, BASE_P)
            guess = start.ln_k + math.log((below + one.skin) / (below + last))
            start = fit_curve(
                treated,
                well,
                replace(table, ring=one),
                ln_k_start=guess,
                ln_storage_start=start.ln_storage,
                excess=fit.excess,
            )
            last = one.skin
            found.append((last, start.ln_k, start.evidence - fit.evidence))
    found.sort()
    added, ln_k, evidence = (np.array(column) for column in zip(*found, strict=True))
    return added, ln_k, evidence


def vertical_share(
    treated: Treated, well: Well, table: Table, fit: CurveFit, drop: float, log_ratio: float
) -> float:
    """How much of a change of P by Kv/Kh shows in K: all when steady, little when storage rules.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m].
    well : Well [-]
        Radii and length [m].
    table : Table [-]
        The geometry with Kv/Kh `LESS` times lower.
    fit : CurveFit [-]
        The fit with Kv/Kh of the test.
    drop : float [-]
        Steady P with the lower Kv/Kh less that of the test.
    log_ratio : float [-]
        P in effect.

    Returns
    -------
    float [-]
        0 to 1.
    """
    other = fit_curve(
        treated,
        well,
        table,
        ln_k_start=fit.ln_k,
        ln_storage_start=fit.ln_storage,
        excess=fit.excess,
    )
    whole = math.log1p(drop / max(log_ratio, BASE_P))
    return float(np.clip((other.ln_k - fit.ln_k) / whole, 0.0, 1.0))


def interpolate_ln_k(shift: Array, ln_k: Array, log_ratio: float, wanted: Array) -> Array:
    """Ln K at any length added to P.

    Parameters
    ----------
    shift, ln_k : Array, shape (m,) [-]
        From a fit at several lengths; empty where K simply goes with P.
    log_ratio : float [-]
        P in effect.
    wanted : Array, shape (n,) [-]
        Added to P.

    Returns
    -------
    Array, shape (n,) [-]
        ln K less ln K with nothing added.
    """
    below = max(log_ratio, BASE_P)

    def plain(shift: Array) -> Array:
        return np.asarray(np.log1p(np.maximum(shift, -(1.0 - LEAST_SHARE) * below) / below))

    if not shift.size:
        return plain(wanted)
    zero = float(np.interp(0.0, shift, ln_k))
    return np.asarray(plain(wanted) + np.interp(wanted, shift, ln_k - zero - plain(shift)))
