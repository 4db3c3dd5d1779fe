"""K, Lugeon value, net head and pipe loss from flow under pressure."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from geoprofile.hydraulics import injection, losses, lugeon
from geoprofile.hydraulics.methods import moye, steady_anisotropic, thiem
from geoprofile.hydraulics.tests import Conductivity, HydraulicTest, Pipe, PressureStep
from geoprofile.validation.case import Case, Second
from geoprofile.validation.cases.inversion import stehfest

HAND = 5e-4
# Jacob and Lohman (1952): scaled time, scaled flow
HELD_HEAD = {
    1e-4: 56.9, 1e-3: 18.34, 1e-2: 6.13, 0.1: 2.249, 1.0: 0.985, 10.0: 0.534, 100.0: 0.346,
    1e3: 0.251, 1e4: 0.1964, 1e6: 0.1360, 1e8: 0.1037,
}  # fmt: skip
HELD_HEAD_RELATIVE = 0.004  # printed to three or four digits
G, RHO_10, MU_10 = 9.80665, 999.703, 1.3059e-3


HOUSE = (
    "Houlsby (1976), Quarterly Journal of Engineering Geology 9, 303-313: five groups of patterns"
)
PATTERNS = {
    "laminar": (5.0, 5.1, 4.9, 5.0, 5.1), "turbulent": (8.0, 6.5, 5.0, 6.4, 8.1),
    "dilation": (3.0, 3.2, 6.0, 3.3, 3.1), "wash-out": (2.0, 3.0, 4.0, 5.0, 6.0),
    "void filling": (6.0, 5.0, 4.2, 3.5, 3.0), "mixed": (3.0, 6.0, 2.0, 5.0, 3.0),
}  # fmt: skip
WORKED_K = 2.8840e-6
PIPE = Pipe(length_m=45.0, inner_diameter_m=0.0266, roughness_m=1.5e-4)
SPOTS = tuple((r, e) for r in (5e3, 1e5, 1e7) for e in (1e-6, 1e-3, 0.02))
EDGES = (losses.LAMINAR, losses.TURBULENT)


def worked(pipe: Pipe | None = PIPE) -> HydraulicTest:
    """Gauge 2.0 bar, 1.10 m above ground, 24 L/min through 45 m of pipe of 26.6 mm."""
    step = PressureStep(
        step=1, flow_m3_per_s=24.0 / 60e3, gauge_pressure_pa=2e5, gauge_height_m=1.1
    )
    return HydraulicTest(
        test="1", interval="1", borehole="1", kind="constant head", interval_length_m=3.05,
        hole_radius_m=0.048, top_m=30.0, bottom_m=33.05, static_depth_m=12.40,
        water_temperature_c=10.0, pressure_steps=(step,),
        pipe=pipe,
    )  # fmt: skip


def held(length: float, radius: float) -> HydraulicTest:
    """0.1 L/s at a net head of 20 m, and half of both."""
    steps = tuple(
        PressureStep(step=i, flow_m3_per_s=0.5e-4 * i, net_head_m=10.0 * i, minutes=10.0)
        for i in (1, 2)
    )
    return HydraulicTest(
        test="1", interval="1", borehole="1", kind="constant head", interval_length_m=length,
        hole_radius_m=radius, top_m=40.0, bottom_m=40.0 + length, static_depth_m=4.0,
        pressure_steps=steps,
    )  # fmt: skip


@cache
def _result() -> Conductivity:
    return moye.PLUGIN.run(worked())


def _found() -> list[float]:
    head, loss = injection.net_head(worked().pressure_steps[0], worked())
    result = _result()
    ratio, lu = float(result.log_ratio or 0.0), float(result.lugeon or 0.0)
    return [loss, head, ratio, float(result.k_m_per_s), lu]


@cache
def _without_pipe() -> list[float]:
    """K without the loss in the pipe over K with it, and whether the notes say so."""
    result = moye.PLUGIN.run(worked(None))
    told = any("no pipe is given" in words for words in result.notes)
    return [result.k_m_per_s / WORKED_K, float(told)]


def _jumps() -> list[float]:
    """Friction just below over just above each end of the transition."""
    return [
        losses.friction_factor(edge * (1 - 1e-9), 1e-3)
        / losses.friction_factor(edge * (1 + 1e-9), 1e-3)
        for edge in EDGES
    ]


def _measured_string() -> list[float]:
    """A loss a Q^n measured on the string goes before the formula."""
    pipe = Pipe(
        length_m=45.0, inner_diameter_m=0.0266, measured_coefficient=2e6, measured_exponent=1.9
    )
    return [losses.pipe_loss(4e-4, pipe)]


def _by_hand() -> list[float]:
    """The same steps with an explicit friction factor (Swamee and Jain 1976, from memory)."""
    speed = 24.0 / 60e3 / (math.pi * 0.0266**2 / 4)
    reynolds = RHO_10 * speed * 0.0266 / MU_10
    factor = 0.25 / math.log10(0.15 / 26.6 / 3.7 + 5.74 / reynolds**0.9) ** 2
    loss = factor * 45.0 / 0.0266 * speed**2 / (2 * G)
    head = 2e5 / (RHO_10 * G) + 1.10 + 12.40 - loss
    lu = 24.0 / 3.05 / (head * RHO_10 * G / 1e6)
    ratio = 1 + math.log(3.05 / 0.096)
    return [loss, head, ratio, 24.0 / 60e3 * ratio / (2 * math.pi * 3.05 * head), lu]


def _scaled_flow(time: float) -> float:
    """Flow from a well of constant head by another inversion than the engine's."""
    from scipy.special import k0e, k1e

    return stehfest(lambda p: float(k1e(math.sqrt(p)) / (math.sqrt(p) * k0e(math.sqrt(p)))), time)


def _hazen_us() -> float:
    """4.52 q^1.852 / (C^1.852 d^4.8704) psi/ft, the US form, from memory; in m of water."""
    gpm, inch = 5e-3 * 15850.323, 0.08 / 0.0254
    psi_per_ft = 4.52 * gpm**1.852 / (130.0**1.852 * inch**4.8704)
    return float(psi_per_ft * 6894.757 / (999.1 * G) * 100.0 / 0.3048)


def _one_lugeon(shape: float) -> float:
    """K of a litre a minute and metre at 1 MPa and 20 C, by hand."""
    return 1.0 / 60e3 * shape / (2 * math.pi * (1e6 / (998.207 * G)))


CASES = (
    Case(
        "worked-constant-head", "k-flow", "Pipe loss, net head, P, K and Lugeon value of one step",
        "Own worked example, every step by hand; Moye (1967)", "derived",
        (1.6323, 32.268, 4.4586, WORKED_K, 24.874), _found, relative=1e-4,
        labels=("pipe loss, m", "net head, m", "P", "K, m/s", "Lu"),
        how="injection.net_head and method moye", because="five digits worked by hand",
        second=Second("by hand, friction of Swamee and Jain (1976)", _by_hand, 0.04),
    ),
    Case(
        "worked-without-pipe", "k-flow", "K of the same step when the pipe is left out, and its "
        "note", "Own worked example: 4.8 % low", "derived", (1 - 0.048, 1.0), _without_pipe,
        absolute=1e-3, labels=("K over K with the pipe", "the note says so"), how="method moye",
        because="three digits",
    ),
    Case(
        "friction-worked", "k-flow", "Friction factor of that step, Re 14 657, e/d 0.15/26.6",
        "Colebrook (1939), worked by hand", "derived", (0.036527,),
        lambda: [losses.friction_factor(14657.0, 0.15 / 26.6)], relative=1e-4,
        how="losses.friction_factor", because="five digits worked by hand",
        second=Second("bisection of Colebrook's implicit form",
                      lambda: [_colebrook(14657.0, 0.15 / 26.6)], 1e-4),
    ),
    Case(
        "moye", "k-flow", "K of a 5 m zone, 0.1 L/s at 20 m", "Moye (1967), worked by hand",
        "from memory", (8.2545e-7,), lambda: [moye.PLUGIN.run(held(5.0, 0.038)).k_m_per_s], "m/s",
        relative=HAND, how="method moye", because="five digits worked by hand",
        second=Second(
            "radial flow out to L/2 and spherical beyond, added up",
            lambda: [1e-4 * (math.log(2.5 / 0.038) + 2.5 * (1 / 2.5)) / (2 * math.pi * 5 * 20)],
            HAND,
        ),
    ),
    Case(
        "thiem", "k-flow", "The same by radial flow to a distance of L",
        "Thiem (1906), worked by hand", "from memory", (7.7661e-7,),
        lambda: [thiem.PLUGIN.run(held(5.0, 0.038)).k_m_per_s], "m/s", relative=HAND,
        how="method thiem", because="five digits worked by hand",
        second=Second(
            "integral of 1/r from the wall to L",
            lambda: [1e-4 * _sum_of_inverse(0.038, 5.0) / (2 * math.pi * 5 * 20)], HAND,
        ),
    ),
    Case(
        "steady-anisotropic", "k-flow", "K of a 3 m zone with its mirror image",
        "Potential of a line and its image in the water table 2 x 37.5 m away, worked by hand: "
        "P = 0.985 x 3.8443 - 0.020", "derived", (9.992e-7,),
        lambda: [steady_anisotropic.PLUGIN.run(held(3.0, 0.048)).k_m_per_s], "m/s", relative=5e-3,
        how="method steady-anisotropic", because="0.985 for one head is from finite volumes",
    ),
    Case(
        "flow-of-held-head", "k-flow", "Flow from a well whose head is held, 11 values",
        "Jacob and Lohman (1952), Transactions AGU 33(4), 559-569, table of G", "from memory",
        tuple(HELD_HEAD.values()),
        lambda: [float(injection.constant_head_flow(np.array([t]))[0]) for t in HELD_HEAD],
        relative=HELD_HEAD_RELATIVE, how="injection.constant_head_flow",
        because="three or four digits, integrated by hand",
        labels=tuple(f"time {t:g}" for t in HELD_HEAD),
        second=Second(
            "inversion by Stehfest (1970) of K1/(sqrt p K0)",
            lambda: [_scaled_flow(t) for t in HELD_HEAD], 5e-3,
        ),
    ),
    Case(
        "one-lugeon", "k-flow", "K of one Lugeon at 20 C for three shapes of zone",
        "Lugeon (1933), definition; P of Moye, Thiem and asinh by hand", "seen",
        (1.347e-7, 1.267e-7, 7.78e-8),
        lambda: [lugeon.conductivity_of_lugeon(p) for p in (5.186, 4.880, 2.998)], "m/s",
        relative=7e-4, how="lugeon.conductivity_of_lugeon", because="three or four digits",
        labels=("P 5.186", "P 4.880", "P 2.998"),
        second=Second(
            "the definition by hand", lambda: [_one_lugeon(p) for p in (5.186, 4.88, 2.998)], 1e-3
        ),
    ),
    Case(
        "definition-of-lugeon", "k-flow", "5 L/min over 5 m at 1 MPa is 1 Lu",
        "Lugeon (1933), definition", "seen", (1.0,),
        lambda: [
            float(lugeon.lugeon_value(5.0 / 60e3, 1e6 / (998.207 * G), 5.0, temperature_c=20.0))
        ],
        "Lu", relative=1e-6, how="lugeon.lugeon_value",
    ),
    Case(
        "friction-laminar", "k-flow", "Friction factor at Re 1000: 64/Re", "Hagen-Poiseuille",
        "derived", (0.064,), lambda: [losses.friction_factor(1000.0, 0.01)], relative=1e-12,
        how="losses.friction_factor",
    ),
    Case(
        "friction-transition", "k-flow", "Friction below over above each end of the transition",
        "A straight line meets both laws", "derived", (1.0, 1.0), _jumps, relative=1e-6,
        labels=tuple(f"Re {e:g}" for e in EDGES), how="losses.friction_factor",
    ),
    Case(
        "measured-string", "k-flow", "Loss of a string measured at surface: a Q^n goes first",
        "Exact arithmetic", "derived", (2e6 * 4e-4**1.9,), _measured_string, "m", relative=1e-9,
        how="losses.pipe_loss",
    ),
    Case(
        "step-patterns", "k-flow", "Pattern of five Lugeon values: 1 is as asked",
        HOUSE, "from memory", (1.0,) * len(PATTERNS),
        lambda: [float(lugeon.step_pattern(np.array(v)) == p) for p, v in PATTERNS.items()],
        labels=tuple(PATTERNS), how="lugeon.step_pattern",
        because="values within 10 % count as equal: common practice, no source",
        second=Second(
            "words of each pattern in plain comparisons",
            lambda: [float(_in_words(v) == p) for p, v in PATTERNS.items()], 0.0,
        ),
    ),
    Case(
        "friction-rough", "k-flow", "Friction factor against an explicit form",
        "Colebrook (1939); Swamee and Jain (1976), which is good to 3 %", "from memory",
        tuple(0.25 / math.log10(e / 3.7 + 5.74 / r**0.9) ** 2 for r, e in SPOTS),
        lambda: [losses.friction_factor(r, e) for r, e in SPOTS], relative=0.035,
        labels=tuple(f"Re {r:g}, e/d {e:g}" for r, e in SPOTS), how="losses.friction_factor",
        because="the explicit form is good to 3 %",
        second=Second(
            "bisection of Colebrook's implicit form",
            lambda: [_colebrook(r, e) for r, e in SPOTS], 0.035,
        ),
    ),
    Case(
        "hazen-williams", "k-flow", "5 L/s through 100 m of 80 mm pipe, C 130",
        "Hazen and Williams, US form in psi per foot", "from memory", (_hazen_us(),),
        lambda: [losses.hazen_williams_loss(5e-3, 100.0, 0.08, 130.0)], "m", relative=5e-3,
        how="losses.hazen_williams_loss", because="coefficients of three digits",
        second=Second(
            "the same SI form by hand, 10.67 L Q^1.852 / (C^1.852 d^4.8704)",
            lambda: [10.67 * 100 * 5e-3**1.852 / (130**1.852 * 0.08**4.8704)], 5e-3,
        ),
    ),
    Case(
        "turbulent-loss", "k-flow", "H = A Q + B Q^2 gives A and B back",
        "Exact arithmetic", "derived", (3e4, 2e8),
        lambda: injection.linear_and_square(_quadratic(), np.array([2.0, 4.0, 8.0, 16.0])),
        relative=1e-9, labels=("A", "B"), how="injection.linear_and_square",
    ),
    Case(
        "turbulent-share", "k-flow", "K from Q/H at 16 m over K of A alone, the same series",
        "Exact arithmetic", "derived", (0.40803,),
        lambda: [
            float(_quadratic()[-1] / 16.0)
            * injection.linear_and_square(_quadratic(), np.array([2.0, 4.0, 8.0, 16.0]))[0]
        ],
        absolute=1e-5, how="injection.linear_and_square", because="five digits",
    ),
)  # fmt: skip


def _quadratic() -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray((-3e4 + np.sqrt(9e8 + 8e8 * np.array([2.0, 4.0, 8.0, 16.0]))) / 4e8)


def _sum_of_inverse(low: float, high: float) -> float:
    points, weights = np.polynomial.legendre.leggauss(200)
    r = low + (high - low) * (points + 1) / 2
    return float(weights @ (1 / r) * (high - low) / 2)


def _colebrook(reynolds: float, rough: float) -> float:
    low, high = 1e-3, 1.0
    for _ in range(80):
        mid = (low + high) / 2
        right = -2 * math.log10(rough / 3.7 + 2.51 / (reynolds * math.sqrt(mid)))
        low, high = (mid, high) if 1 / math.sqrt(mid) > right else (low, mid)
    return (low + high) / 2


def _in_words(values: tuple[float, ...]) -> str:
    """The pattern by what its name says of first, top and last step, a tenth for equal."""
    first, up, top, down, last = values

    def near(a: float, b: float) -> bool:
        return abs(a - b) <= 0.1 * max(a, b)

    paired = near(first, last) and near(up, down)
    if paired and near(first, top):
        return "laminar"
    if paired:
        return "turbulent" if top < min(first, up) else "dilation" if top > 1.3 * first else "mixed"
    if values == tuple(sorted(values)):
        return "wash-out"
    return "void filling" if values == tuple(sorted(values, reverse=True)) else "mixed"
