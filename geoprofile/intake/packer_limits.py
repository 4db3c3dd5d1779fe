"""Limits of packers that no packer can have, refused before anything is planned with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake.problems import tell

Where = Callable[[pd.DataFrame, int, str], str]
# the first of each pair must not be larger than the second
ORDER: Mapping[tuple[str, str], str] = {
    ("min_hole_mm", "max_hole_mm"): "the smallest hole no larger than the largest",
    ("deflated_diameter_mm", "min_hole_mm"): "a deflated packer that passes the smallest hole",
    (
        "seating_pressure_kpa",
        "max_inflation_kpa",
    ): "a seating pressure below the largest inflation pressure",
    ("pipe_inner_diameter_mm", "deflated_diameter_mm"): "a pipe that fits through the packer",
}


def check_packers(frame: pd.DataFrame, where: Where, problems: list[Problem]) -> None:
    """Tell packers whose limits contradict each other."""
    for pair, rule in ORDER.items():
        _check_pair(frame, pair, rule, where, problems)


def _check_pair(
    frame: pd.DataFrame,
    pair: tuple[str, str],
    rule: str,
    where: Where,
    problems: list[Problem],
) -> None:
    low, high = pair
    small, large = (frame[n].to_numpy(dtype=float) for n in pair)
    tell(
        problems,
        [int(i) for i in np.flatnonzero(small > large)],
        lambda i: where(frame, i, low),
        lambda i: (
            f"{low} {small[i]:g} above {high} {large[i]:g}",
            rule,
            "Take both from the maker's data sheet of this packer.",
        ),
    )
