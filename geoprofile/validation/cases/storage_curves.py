"""Recovery of a well with storage beyond the printed table, and the well at Dawsonville."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from geoprofile.hydraulics.curve_table import tabulate
from geoprofile.hydraulics.recovery import radial_modes, recovery
from geoprofile.hydraulics.tests import Conductivity
from geoprofile.plugins.registry import plugin
from geoprofile.validation.case import Case, Second
from geoprofile.validation.cases.inversion import recovery_by_integral
from geoprofile.validation.cases.recoveries import DAWSONVILLE, SECONDS, TABLE_1, falling, k_by
from geoprofile.validation.cases.recovery_table import beta_of, printed

RADIUS, LENGTH, H0 = 0.076, 98.0, 0.560
PUBLISHED_T, PUBLISHED_S = 5.3e-4, 1e-3
EXAMPLE = "Cooper, Bredehoeft and Papadopulos (1967), worked example: the well at Dawsonville"
SMALL = {1e-6: 0.748942, 1e-7: 0.780086, 1e-8: 0.804471, 1e-9: 0.824049, 1e-10: 0.840098}
DIGITS_30 = ((1e-10, 1e-3), (1e-10, 215.0), (1e-5, 0.3), (1e-2, 20.0), (1e3, 1e-3))
EXACT = ((1e-1, 1.0), (1e-3, 1.0), (1e-5, 7.0))
TABULATED = (1e-9, 1e-5, 1e-2)


def ours(alpha: float, beta: float) -> float:
    """H/H0; tau is 2 beta."""
    return float(recovery(np.array([2 * beta]), alpha, radial_modes())[0])


def _less_thirty_digits() -> list[float]:
    """Ours less a general library's inversion of the same transform with 30 digits."""
    import mpmath as mp

    found = []
    with mp.workdps(30):
        for alpha, beta in DIGITS_30:

            def transform(p: mp.mpf, a: float = alpha) -> mp.mpf:
                x = mp.sqrt(mp.mpf(a) * p)
                return 1 / (p + 2 * x * mp.besselk(1, x) / mp.besselk(0, x))

            exact = mp.invertlaplace(transform, mp.mpf(beta), method="talbot", degree=36)
            found.append(ours(alpha, beta) - float(exact))
    return found


def _quick_less_sum() -> list[float]:
    tau = np.geomspace(1e-3, 100.0, 30)
    table = tabulate(radial_modes())
    return [
        float(np.max(np.abs(table.recovery(tau, a) - recovery(tau, a, radial_modes()))))
        for a in TABULATED
    ]


@cache
def _dawsonville() -> Conductivity:
    """The readings with the displacement at the start: 10.16 L in a pipe of 7.6 cm radius."""
    test = falling(
        1.0, isolation="open hole", interval_length_m=LENGTH, hole_radius_m=RADIUS,
        riser_radius_m=RADIUS, top_m=24.0, bottom_m=122.0, static_depth_m=None, confined=True,
        aquifer_top_m=24.0, aquifer_base_m=122.0, elapsed_s=np.append(0.0, SECONDS),
        displacement_m=np.append(H0, DAWSONVILLE),
        expected_displacement_m=10.16e-3 / (math.pi * RADIUS**2),
    )  # fmt: skip
    found: Conductivity = plugin("methods", "radial-storage").run(test)
    return found


def _t() -> list[float]:
    return [_dawsonville().k_m_per_s * LENGTH]


def _log_s() -> list[float]:
    return [math.log10((_dawsonville().specific_storage_per_m or math.nan) * LENGTH)]


def _place_in_range() -> list[float]:
    """Where the hand match lies between the ends of our 95 %, 0 to 1, by the log."""
    low, high = (
        math.log(k * LENGTH) for k in (_dawsonville().k_low_m_per_s, _dawsonville().k_high_m_per_s)
    )
    return [(math.log(PUBLISHED_T) - low) / (high - low)]


def _best_t() -> list[float]:
    """T of the least squares with the published storage."""
    trial = np.linspace(4e-4, 7e-4, 301)
    curves = [recovery(2 * t * SECONDS / RADIUS**2, PUBLISHED_S, radial_modes()) for t in trial]
    return [float(trial[int(np.argmin([np.sum((H0 * c - DAWSONVILLE) ** 2) for c in curves]))])]


def _best_t_by_integral() -> list[float]:
    trial = np.linspace(4e-4, 7e-4, 13)
    misfit = [
        sum(
            (H0 * recovery_by_integral(PUBLISHED_S, t * s / RADIUS**2) - h) ** 2
            for s, h in zip(SECONDS[::2], DAWSONVILLE[::2], strict=True)
        )
        for t in trial
    ]
    return [float(trial[int(np.argmin(misfit))])]


def _played() -> list[float]:
    """The printed column of alpha 1e-3 played at the T of the example."""
    rows = [(beta_of(b), h) for a, b, h in printed() if a == 1e-3 and 0.009 < b < 8]
    time = np.array([b for b, _ in rows]) * RADIUS**2 / PUBLISHED_T
    test = falling(
        1.0, isolation="open hole", interval_length_m=LENGTH, hole_radius_m=RADIUS,
        riser_radius_m=RADIUS, top_m=24.0, bottom_m=122.0, confined=True, aquifer_top_m=24.0,
        aquifer_base_m=122.0, elapsed_s=np.append(0.0, time),
        displacement_m=H0 * np.append(1.0, [h for _, h in rows]), expected_displacement_m=H0,
    )  # fmt: skip
    return k_by("radial-storage", test)


CASES = (
    Case(
        "recovery-exact", "k-recovery", "The same function against the real Bessel integral",
        "Carslaw and Jaeger (1959), section 13.5; own quadrature", "derived",
        tuple(recovery_by_integral(a, b) for a, b in EXACT), lambda: [ours(*x) for x in EXACT],
        absolute=1e-7, labels=tuple(f"alpha {a:g}, beta {b:g}" for a, b in EXACT),
        how="recovery with radial_modes",
    ),
    Case(
        "recovery-small-storage", "k-recovery", "The same at beta 1, alpha 1e-6 to 1e-10",
        "Own computation with 50 digits", "derived", tuple(SMALL.values()),
        lambda: [ours(a, 1.0) for a in SMALL], absolute=6e-7, because="kept to six digits",
        labels=tuple(f"alpha {a:g}" for a in SMALL), how="recovery with radial_modes",
        second=Second(
            "Bessel integral of Carslaw and Jaeger (1959)",
            lambda: [recovery_by_integral(a, 1.0) for a in SMALL], 1e-5,
        ),
    ),
    Case(
        "recovery-thirty-digits", "k-recovery", "The same less an inversion with 30 digits",
        "General library mpmath, Talbot's contour", "derived", (0.0,) * len(DIGITS_30),
        _less_thirty_digits, absolute=1e-8, needs=("mpmath",), how="recovery with radial_modes",
        labels=tuple(f"alpha {a:g}, beta {b:g}" for a, b in DIGITS_30),
    ),
    Case(
        "recovery-late", "k-recovery", "The same at beta 10 000: 1/(4 beta)",
        "Late time, closed form", "derived", (1 / 4e4,), lambda: [ours(1e-5, 1e4)], relative=2e-3,
        how="recovery with radial_modes", because="the next term is not in the formula",
    ),
    Case(
        "quick-curve", "k-recovery", "Largest distance of the table for fitting from the sum",
        "The full inversion", "derived", (0.0,) * 3, _quick_less_sum, absolute=1e-6,
        labels=tuple(f"alpha {a:g}" for a in TABULATED), how="tabulate beside recovery",
    ),
    Case(
        "dawsonville", "k-recovery", "T of the well at Dawsonville, storage free",
        f"{EXAMPLE}, matched by hand", "from memory", (PUBLISHED_T,), _t, "m2/s", relative=0.15,
        how="method radial-storage", because="a match by hand",
        second=Second(
            "least squares with the Bessel integral, S fixed at 1e-3", _best_t_by_integral, 0.15
        ),
    ),
    Case(
        "dawsonville-fixed", "k-recovery", "T of that well with its published storage",
        f"{EXAMPLE}, matched by hand", "from memory", (PUBLISHED_T,), _best_t, "m2/s",
        relative=0.06, how="recovery with radial_modes, least squares",
        because="a match by hand", second=Second(
            "least squares with the Bessel integral", _best_t_by_integral, 0.06
        ),
    ),
    Case(
        "dawsonville-storage", "k-recovery", "log10 of its storage", EXAMPLE, "from memory",
        (math.log10(PUBLISHED_S),), _log_s, absolute=0.5, how="method radial-storage",
        because="a match by hand: half a decade", beside="dawsonville",
    ),
    Case(
        "dawsonville-range", "k-spread", "Place of the published T between the ends of our 95 %",
        EXAMPLE, "from memory", (0.5,), _place_in_range, inside=(0.0, 1.0),
        how="method radial-storage", beside="dawsonville",
    ),
    Case(
        "radial-storage-played", "k-recovery", "K of the printed curve of alpha 1e-3, 98 m open",
        f"{TABLE_1}, played at T = 5.3e-4 m2/s", "from memory", (PUBLISHED_T / LENGTH,), _played,
        "m/s", relative=0.01, how="method radial-storage", because="four printed digits",
        beside="recovery-table",
    ),
)  # fmt: skip
