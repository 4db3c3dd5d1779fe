"""What is known in an interval, and numbers as the advice tells them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import SHOWN_UNITS, tidy

if TYPE_CHECKING:
    from geoprofile.products.model.fitted import Field
    from geoprofile.site import Site

Array = NDArray[np.float64]
Side = Literal["above", "below", "unknown"]


@dataclass(frozen=True, eq=False)
class Known:
    """What is known in one interval: `value` or, where nothing was detected, `limit` [unit].

    `xyz` (3,) [m] is the middle of the interval, `depth_m` the depth of that along the hole.
    """

    borehole: str
    depth_m: float
    xyz: Array
    value: float | None
    limit: float | None
    unit: str

    def side(self, criterion: float) -> Side:
        """On which side of a criterion [unit] it lies; unknown for a limit above it."""
        if self.value is not None:
            return "above" if self.value > criterion else "below"
        return "below" if self.limit is not None and self.limit <= criterion else "unknown"

    @property
    def words(self) -> str:
        """For example `B4 (12 µg/L at 21 m)`."""
        unit = SHOWN_UNITS.get(self.unit, self.unit)
        if self.value is not None:
            amount = short(self.value)
            return f"{self.borehole} ({amount} {unit} at {self.depth_m:.0f} m)"
        limit = "its limit" if self.limit is None else f"{tidy(self.limit)} {unit}"
        return f"{self.borehole} (below {limit} at {self.depth_m:.0f} m)"


def known_of(site: Site, field: Field) -> tuple[Known, ...]:
    """What a field rests on, interval by interval.

    Parameters
    ----------
    site : Site
        Table interval.
    field : Field
        With its evidence.

    Returns
    -------
    tuple of Known
        In the order of the data [unit of the field].
    """
    rows = site.intervals.set_index("interval")
    middle = (0.5 * (rows["top_m"] + rows["bottom_m"])).to_dict()
    evidence = field.evidence
    values, limits = 10.0**evidence.data.value, 10.0 ** np.asarray(evidence.data.upper)
    return tuple(
        Known(
            hole,
            float(middle[name]),
            centre,
            None if math.isnan(value) else float(value),
            None if math.isnan(limit) else float(limit),
            evidence.unit,
        )
        for name, hole, centre, value, limit in zip(
            evidence.intervals,
            evidence.boreholes,
            evidence.data.support.centre,
            values,
            limits,
            strict=True,
        )
    )


def short(value: float) -> str:
    """A number with two digits.

    Parameters
    ----------
    value : float [any unit]
        Any finite number.

    Returns
    -------
    str
        For example "12", "4.8e-6".
    """
    return tidy(float(f"{value:.2g}"))


def percent(share: float) -> str:
    """A share in percent, small ones with two digits.

    Parameters
    ----------
    share : float [-]
        Of the whole.

    Returns
    -------
    str
        For example "14 %", "0.38 %".
    """
    return f"{100 * share:.0f} %" if share >= 0.095 else f"{100 * share:.2g} %"
