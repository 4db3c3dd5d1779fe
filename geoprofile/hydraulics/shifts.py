"""K when something unseen adds to P: a skin, or a Kv/Kh that is another than thought.

A ring of conductivity f K out to rs adds s = (1/f - 1) ln(rs/rw) to P (Hawkins 1956); another Kv/Kh
adds the difference of P. Readings know the sum at best, by their bend, and often not at all.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from geoprofile.hydraulics.curves import CurveFit, Well, fit_curve
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.table import Table
from geoprofile.records import Array

HIGHEST = (0.8, 2.0, 4.0)  # [-] added to P, at which the recovery is fitted again
LEAST_SHARE = 0.25  # [-] of P that is left whatever is taken off


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

    Notes
    -----
    Below 0 (an open ring) K goes with P and the evidence is level: what a permeable ring does early
    is not a negative resistance.
    """
    added, ln_k, evidence = [0.0], [fit.ln_k], [0.0]
    start = fit
    for s in HIGHEST:
        guess = start.ln_k + math.log((log_ratio + s) / (log_ratio + added[-1]))
        start = fit_curve(
            treated,
            well,
            replace(table, shift=s),
            ln_k_start=guess,
            ln_storage_start=start.ln_storage,
            excess=fit.excess,
        )
        added.append(s)
        ln_k.append(start.ln_k)
        evidence.append(start.evidence - fit.evidence)
    low = max(-1.5, -(1.0 - LEAST_SHARE) * log_ratio)
    added.insert(0, low)
    ln_k.insert(0, fit.ln_k + math.log1p(low / log_ratio))
    evidence.insert(0, 0.0)
    return np.array(added), np.array(ln_k), np.array(evidence)


def interpolate_ln_k(shift: Array, ln_k: Array, log_ratio: float, wanted: Array) -> Array:
    """ln K at any length added to P.

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
    floor = np.maximum(wanted, -(1.0 - LEAST_SHARE) * log_ratio)
    whole = np.log1p(floor / log_ratio)
    if not shift.size:
        return np.asarray(whole)
    zero = float(np.interp(0.0, shift, ln_k))
    beyond = (ln_k - zero) - np.log1p(np.maximum(shift, -0.74 * log_ratio) / log_ratio)
    return np.asarray(whole + np.interp(floor, shift, beyond))
