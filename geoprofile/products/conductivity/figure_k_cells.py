"""K in cells finer than a zone, from all tests of a hole, drawn over its profile."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from geoprofile.drawing import theme

if TYPE_CHECKING:
    from geoprofile.site import Site


def draw_cells(axes: Axes, site: Site, borehole: str) -> str:
    """Draw the median and the 95 % of the cells as steps.

    Parameters
    ----------
    axes : Axes
        Depth downwards, K across.
    site : Site
        Table k_profile.
    borehole : str
        Which one.

    Returns
    -------
    str
        What to say in the foot; "" where there is no such profile.
    """
    rows = site.table("k_profile")
    rows = rows[rows["borehole"] == borehole].sort_values("top_m")
    if not len(rows):
        return ""
    edges = np.append(rows["top_m"].to_numpy(float), float(rows["bottom_m"].iloc[-1]))
    for name, width, dash in (
        ("k_low_m_per_s", 0.6, (0, (2, 2))),
        ("k_m_per_s", 1.4, "solid"),
        ("k_high_m_per_s", 0.6, (0, (2, 2))),
    ):
        value = rows[name].to_numpy(float)
        axes.plot(
            np.repeat(value, 2), np.repeat(edges, 2)[1:-1], color=theme.STOP, lw=width, ls=dash
        )
    if not bool(rows["notes"].isna().all()):
        return "Steps: K in cells, from all tests of the hole (dotted: 95 %)."
    first = rows.iloc[0]
    return (
        "Steps: K in cells, from all tests of the hole (dotted: 95 %); skin and Kv/Kh add "
        f"{first['added_to_p']:.1f} ({first['added_to_p_low']:.1f} to "
        f"{first['added_to_p_high']:.1f}) to P."
    )
