"""The K of a test: every method's K with what nobody told, averaged over the methods that apply."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geoprofile.hydraulics.leak import CHANCE, Leak
from geoprofile.hydraulics.nuisances import SKINS, Draws, draws_of
from geoprofile.hydraulics.shifts import interpolate_ln_k
from geoprofile.hydraulics.spread import WIDEST_LN
from geoprofile.hydraulics.tests import Array, Conductivity, HydraulicTest, Part

SCORE_SCALE = 0.12  # [-] a method whose worth is that much lower weighs 1/e
TEMPER = 0.5  # [-] of what readings seem to say of a skin: layers and drift bend a recovery too
FEWEST_SHARE = 1e-3  # [-] weight below which a method is left out of the average
LEVELS = (0.025, 0.5, 0.975)
IN_CELL = 10  # draws to a cell, on average


@dataclass(frozen=True, eq=False)
class Sample:
    """Draws of ln K (n,) with their weights (n,), the parts that spread them, what a leak takes."""

    ln_k: Array
    weight: Array
    parts: tuple[Part, ...]
    leak_ln_k: float = 0.0


def with_unknowns(test: HydraulicTest, result: Conductivity, leak: Leak) -> Sample:
    """Draws of ln K of one method with skin, Kv/Kh and leak.

    Parameters
    ----------
    test : HydraulicTest [-]
        What was told.
    result : Conductivity [-]
        K as fitted by one method, with its parts.
    leak : Leak [-]
        What is known of a leak.

    Returns
    -------
    Sample [-]
        Draws of ln K [m/s] and the budget.

    Notes
    -----
    Skin and Kv/Kh act together through P; their joint variance is shared out by what each brings
    alone and beside the other, half and half (Shapley 1953), so that the budget adds up exactly.
    """
    draws = draws_of(test, leak, vertical_share=result.vertical_share)
    p = max(result.log_ratio or 1.0, 0.5)
    base = math.log(result.k_m_per_s) - result.bias_ln
    sum_of_both = draws.skin + draws.vertical
    weight = _weight(result, sum_of_both)

    def moved(shift: Array) -> Array:
        return interpolate_ln_k(result.shift, result.shift_ln_k, p, shift)

    both = moved(sum_of_both)
    kept = np.log(np.maximum(draws.kept, 0.05))
    known = min(math.sqrt(sum(part.sd_ln**2 for part in result.parts)), WIDEST_LN)
    wrong = np.where(draws.chance < result.radius_chance, result.radius_ln_k, 0.0)
    ln_k = base + both + kept + wrong + known * draws.normal
    parts = [part for part in result.parts if part.sd_ln > 0]
    parts += _shared(test, draws, moved, weight, _variance(both, weight))
    parts += _leak_part(leak, kept)
    if result.radius_chance > 0:
        sd, size = float(np.std(wrong)), abs(result.radius_ln_k)
        words = f"{100 * result.radius_chance:.0f} % wrong, else as told"
        parts.append(Part("riser radius against H0", 1.0, "1", size, words, sd / size))
    return Sample(ln_k, weight, tuple(parts), float(weight @ kept))


def _weight(result: Conductivity, shift: Array) -> Array:
    """How well the readings bear each shift, summing to 1."""
    if not result.shift.size:
        return np.full(shift.size, 1.0 / shift.size)
    log = TEMPER * np.interp(shift, result.shift, result.shift_evidence)
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum())


def _variance(value: Array, weight: Array) -> float:
    mean = float(weight @ value)
    return float(weight @ (value - mean) ** 2)


def _shared(
    test: HydraulicTest,
    draws: Draws,
    moved: Callable[[Array], Array],
    weight: Array,
    whole: float,
) -> list[Part]:
    """Skin and Kv/Kh as two lines of the budget whose variances sum to that of both."""
    alone_skin = _variance(moved(draws.skin), weight)
    alone_kv = _variance(moved(draws.vertical), weight)
    skin = max(0.5 * (alone_skin + whole - alone_kv), 0.0)
    skin = min(skin, whole)
    kv = whole - skin
    prior = SKINS.get(test.development, SKINS[None])
    sd_skin = float(np.std(draws.skin)) or 1.0
    sd_kv = test.kv_kh_sd_log10
    mean = float(weight @ draws.skin)
    none = 100 * (1 - prior.chance)
    words = f"mixture, {none:.0f} % none, else K x {prior.low:g} to {prior.high:g}"
    return [
        Part("skin, added to P", mean, "1", sd_skin, words, math.sqrt(skin) / sd_skin),
        Part("Kv/Kh, log10", math.log10(test.kv_kh), "1", sd_kv, "normal", math.sqrt(kv) / sd_kv)
        if sd_kv > 0
        else Part("Kv/Kh, log10", math.log10(test.kv_kh), "1", 0.0, "normal", 0.0),
    ]


def _leak_part(leak: Leak, kept: Array) -> list[Part]:
    """The leak as a line of the budget."""
    sd_ln, share = float(np.std(kept)), 1.0 - np.exp(kept)
    sd = float(np.std(share))
    if sd <= 0:
        return []
    words = f"{100 * (1 - CHANCE):.0f} % none, else log-uniform"
    words += ", and the water balance" if leak.balanced else ""
    return [Part("leak, share of the flow", float(share.mean()), "1", sd, words, -sd_ln / sd)]


def average(
    test: HydraulicTest,
    results: Sequence[Conductivity],
    worth: Sequence[float],
    best: int,
    leak: Leak,
) -> tuple[Conductivity, ...]:
    """Every result with what nobody told; the preferred one averaged over all that apply.

    Parameters
    ----------
    test : HydraulicTest [-]
        What was told.
    results : sequence of Conductivity [-]
        As fitted.
    worth : sequence of float [-]
        Score of each less what its grade costs.
    best : int [-]
        The preferred one.
    leak : Leak [-]
        What is known of a leak.

    Returns
    -------
    tuple of Conductivity [-]
        K is the median, the bounds are the 2.5 and 97.5 % of the draws; `sd_log10_k` is the root of
        the summed squares of the budget.

    References
    ----------
    JCGM 100:2008 (GUM) and JCGM 101:2008, propagation of distributions.
    """
    samples = [with_unknowns(test, r, leak) for r in results]
    alone = test.chosen_method is not None or len(results) == 1
    return tuple(
        _record(r, s) if alone or i != best else _averaged(results, samples, worth, best)
        for i, (r, s) in enumerate(zip(results, samples, strict=True))
    )


def _record(result: Conductivity, sample: Sample) -> Conductivity:
    """One method's K with its interval and budget."""
    low, middle, high = quantiles(sample.ln_k, sample.weight)
    sd = math.sqrt(sum(part.sd_ln**2 for part in sample.parts))
    return replace(
        result,
        k_m_per_s=math.exp(middle),
        k_low_m_per_s=math.exp(low),
        k_high_m_per_s=math.exp(high),
        sd_log10_k=sd / math.log(10.0),
        parts=sample.parts,
        leak_ln_k=sample.leak_ln_k,
        k_as_fitted_m_per_s=result.k_m_per_s,
    )


def _averaged(
    results: Sequence[Conductivity], samples: Sequence[Sample], worth: Sequence[float], best: int
) -> Conductivity:
    """The preferred result with the draws of all methods in one."""
    log = (np.asarray(worth) - worth[best]) / SCORE_SCALE
    share = np.exp(np.minimum(log, 0.0))
    share = np.where(share < FEWEST_SHARE, 0.0, share)
    share /= share.sum()
    centre = np.array([float(s.weight @ s.ln_k) for s in samples])
    mean = float(share @ centre)
    between = math.sqrt(float(share @ (centre - mean) ** 2))
    one = samples[best]
    # the draws of a method are shared by all; what sets methods apart is where they are centred
    ln_k = np.concatenate([s.ln_k for s in samples])
    weight = np.concatenate([w * s.weight for w, s in zip(share, samples, strict=True)])
    low, middle, high = quantiles(ln_k, weight)
    within = _within(samples, share, one.parts)
    parts = (*within, Part("choice of method", 1.0, "1", between, "weights of methods", 1.0))
    used = ((r.method, 100 * w) for r, w in zip(results, share, strict=True) if w > 0)
    names = ", ".join(f"{method} {percent:.0f} %" for method, percent in used)
    notes = results[best].notes
    if np.count_nonzero(share) > 1:
        notes = (*notes, f"K averaged over the methods: {names}")
    return replace(
        results[best],
        k_m_per_s=math.exp(middle),
        k_low_m_per_s=math.exp(low),
        k_high_m_per_s=math.exp(high),
        sd_log10_k=math.sqrt(sum(part.sd_ln**2 for part in parts)) / math.log(10.0),
        parts=parts,
        k_as_fitted_m_per_s=results[best].k_m_per_s,
        leak_ln_k=one.leak_ln_k,
        notes=notes,
    )


def _within(samples: Sequence[Sample], share: Array, own: tuple[Part, ...]) -> tuple[Part, ...]:
    """Parts of the preferred method with the variance that the average over methods leaves them."""
    names = list(dict.fromkeys(part.name for s in samples for part in s.parts))
    out = []
    for name in names:
        variance, shown = 0.0, None
        for weight, sample in zip(share, samples, strict=True):
            for part in sample.parts:
                if part.name == name:
                    variance += float(weight) * part.sd_ln**2
                    shown = part if shown is None else shown
        shown = next((part for part in own if part.name == name), shown)
        if shown is None or variance <= 0:
            continue
        u = shown.standard_uncertainty or math.sqrt(variance)
        sign = math.copysign(1.0, shown.sensitivity)
        out.append(
            replace(shown, standard_uncertainty=u, sensitivity=sign * math.sqrt(variance) / u)
        )
    return tuple(out)


def quantiles(value: Array, weight: Array) -> tuple[float, float, float]:
    """2.5, 50 and 97.5 % of weighted draws.

    Parameters
    ----------
    value, weight : Array, shape (n,) [-]
        Draws and weights that sum to 1.

    Returns
    -------
    tuple of float [-]
        In the unit of the draws.

    Notes
    -----
    Between the two draws whose summed weights enclose a level. To sort some thousand draws takes
    longer than all else, so that they are only counted into cells, and those near a level sorted.
    """
    cell = _cells(value)
    before = np.append(0.0, np.cumsum(np.bincount(cell, weight)))
    held = np.zeros(before.size - 1, dtype=bool)
    held[cell] = True
    filled = np.flatnonzero(held)
    at = np.searchsorted(filled, np.searchsorted(before[1:], LEVELS, side="right"))
    held[:] = False
    for beside in (-1, 0, 1):  # the two draws may stand in neighbours
        held[filled[np.clip(at + beside, 0, filled.size - 1)]] = True
    kept = np.flatnonzero(held[cell])
    kept = kept[np.argsort(value[kept], kind="stable")]
    own, cell = weight[kept], cell[kept]
    sums = np.cumsum(own)
    sums += before[cell] - (sums - own)[np.searchsorted(cell, cell)]
    low, middle, high = np.interp(LEVELS, sums - 0.5 * own, value[kept])
    return float(low), float(middle), float(high)


def _cells(value: Array) -> NDArray[np.intp]:
    """Even cells between the least and the greatest; one for all where there is no between."""
    low = value.min()
    span = float(value.max() - low)
    if not 0.0 < span < math.inf:
        return np.zeros(value.size, dtype=np.intp)
    return np.asarray((value - low) * ((value.size // IN_CELL) / span), dtype=np.intp)
