"""Areas and section lines far from all boreholes: a slip of the hand, or another CRS.

A grid over such a shape has cells without end, and all but none of them near a test.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geoprofile.intake.outliers import FAR_M, TIMES
from geoprofile.intake.problems import place
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.errors import Problem


def check_far_shapes(
    shapes: pd.DataFrame, boreholes: pd.DataFrame | None, problems: list[Problem]
) -> None:
    """Tell every shape that reaches absurdly far beyond the boreholes.

    That is by more than 20 km and more than 20 times the width over which the boreholes lie.
    Without boreholes nothing can be said.
    """
    import shapely

    from geoprofile.errors import Problem as Told

    if boreholes is None or boreholes.empty or not len(shapes):
        return
    xy = boreholes[["x", "y"]].to_numpy(dtype=np.float64)
    xy = xy[np.isfinite(xy).all(axis=1)]
    if not len(xy):
        return
    low, high = xy.min(axis=0), xy.max(axis=0)
    most = max(FAR_M, TIMES * float(np.hypot(*(high - low))))
    bounds = shapely.bounds(shapes["geometry"].to_numpy(dtype=object))
    beyond = np.maximum(low - bounds[:, :2], bounds[:, 2:] - high).max(axis=1)
    for row in np.flatnonzero(beyond > most):
        one = shapes.iloc[row]
        problems.append(
            Told(
                f"{place(str(one[SOURCE_FILE]), int(one[SOURCE_ROW]))} ({one['name']})",
                f"a shape that reaches {beyond[row] / 1000:.4g} km beyond the boreholes",
                f"at most {most / 1000:.4g} km",
                "Check its corners for slips and for another CRS, and draw it round the site.",
            )
        )
