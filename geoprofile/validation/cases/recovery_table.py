"""Cooper, Bredehoeft and Papadopulos (1967), table 1: recoveries of a well with storage.

Water Resources Research 3(1), 263-269. From memory; the part of the columns 1e-1, 1e-3 and 1e-5 up
to 4.64 was also seen quoted in public text.
"""

from __future__ import annotations

import math

ALPHAS = (1e-1, 1e-2, 1e-3, 1e-4, 1e-5)
# beta, then H/H0 for each alpha; labels 2.15 and 4.64 stand for 10^(1/3) and 10^(2/3)
TABLE = (
    (0.001, 0.9771, 0.992, 0.9969, 0.9985, 0.9992),
    (0.00215, 0.9658, 0.9876, 0.9949, 0.9974, 0.9985),
    (0.00464, 0.949, 0.9807, 0.9914, 0.9954, 0.997),
    (0.01, 0.9238, 0.9693, 0.9853, 0.9915, 0.9942),
    (0.0215, 0.886, 0.9505, 0.9744, 0.9841, 0.9888),
    (0.0464, 0.8293, 0.9187, 0.9545, 0.9701, 0.9781),
    (0.1, 0.746, 0.8655, 0.9183, 0.9434, 0.9572),
    (0.215, 0.6289, 0.7782, 0.8538, 0.8935, 0.9167),
    (0.464, 0.4782, 0.6436, 0.7436, 0.8031, 0.841),
    (1, 0.3117, 0.4598, 0.5729, 0.652, 0.708),
    (2.15, 0.1665, 0.2597, 0.3543, 0.4364, 0.5038),
    (4.64, 0.07415, 0.1086, 0.1554, 0.2082, 0.262),
    (7, 0.04625, 0.06204, 0.08519, 0.1161, 0.1521),
    (10, 0.03065, 0.0378, 0.04821, 0.06355, 0.08378),
    (14, 0.02092, 0.02414, 0.02844, 0.03492, 0.04426),
    (21.5, 0.01297, 0.01414, 0.01545, 0.01723, 0.01999),
    (30, 0.00907, 0.009615, 0.01016, 0.01083, 0.01169),
    (46.4, 0.005711, 0.005919, 0.006111, 0.006319, 0.006554),
    (70, 0.003722, 0.003809, 0.003884, 0.003962, 0.004046),
    (100, 0.002577, 0.002618, 0.002653, 0.002688, 0.002725),
    (215, 0.001179, 0.001187, 0.001194, 0.001201, 0.001208),
)
MISPRINTS = {(1e-3, 4.64), (1e-5, 21.5)}
ABSOLUTE, RELATIVE = 1.2e-4, 1.5e-3  # the table was integrated by hand


def beta_of(label: float) -> float:
    """The argument behind a printed label: 2.15 stands for 10^(1/3)."""
    exact = 10.0 ** (round(3 * math.log10(label)) / 3)
    return exact if abs(exact / label - 1) < 0.005 else label


def printed(*, misprints: bool = False) -> list[tuple[float, float, float]]:
    """Alpha, beta as printed, and H/H0 of the table, without the misprints or with these alone."""
    return [
        (alpha, row[0], value)
        for row in TABLE
        for alpha, value in zip(ALPHAS, row[1:], strict=True)
        if ((alpha, row[0]) in MISPRINTS) is misprints
    ]
