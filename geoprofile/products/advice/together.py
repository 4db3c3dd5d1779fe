"""One list over all quantities: one proposal on each spot, the best for its cost first."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Row: TypeAlias = dict[str, Any]
K = "K"
SAME_M = 1e-3  # [m] nearer than that is the same spot
PART = 0.25  # [-] of a correlation length, within which two holes tell nearly the same


def analytes_first(quantities: Sequence[str]) -> list[str]:
    """The quantities in the order in which they choose their places.

    Parameters
    ----------
    quantities : sequence of str
        K and analytes.

    Returns
    -------
    list of str
        K last: where a test for an analyte is due, K comes with it.
    """
    return sorted(quantities, key=lambda name: name == K)


def clear_of(xy: Array, taken: Array, apart_m: float) -> NDArray[np.bool_]:
    """Places that are either taken already, or far enough from all that are taken.

    Parameters
    ----------
    xy : Array, shape (n, 2) [m]
        Places.
    taken : Array, shape (m, 2) [m]
        Places proposed for other quantities.
    apart_m : float [m]
        Nearer than that, two holes are one.

    Returns
    -------
    Array, shape (n,)
        All where nothing is taken.

    Examples
    --------
    >>> clear_of(np.array([[0.0, 0.0], [4.0, 0.0], [20.0, 0.0]]), np.array([[0.0, 0.0]]), 5.0)
    array([ True, False,  True])
    """
    if not len(taken):
        return np.ones(len(xy), dtype=bool)
    away = np.linalg.norm(xy[:, None, :] - taken[None, :, :], axis=2)
    return np.asarray((away <= SAME_M).any(axis=1) | (away > apart_m).all(axis=1))


def merged(
    rows: Sequence[Row], spot: Callable[[Row], Hashable], join: Callable[[Row, Sequence[Row]], Row]
) -> list[Row]:
    """One row for each spot, led by the quantity that gains most there.

    Parameters
    ----------
    rows : sequence of dict
        With `quantity`, `gain_share` [-], `reason`.
    spot : callable
        What tells two spots apart.
    join : callable
        The columns of the work on a spot, from its first row and all of them.

    Returns
    -------
    list of dict
        With `also`, the other quantities, and `worth`: the shares of all of them added, per unit
        of cost. A row must have its `cost` after `join`.
    """
    spots: dict[Hashable, list[Row]] = {}
    for row in rows:
        spots.setdefault(spot(row), []).append(row)
    return [_one(sorted(each, key=_leading), join) for each in spots.values()]


def _leading(row: Row) -> tuple[bool, float]:
    """An analyte leads before K, then the larger share."""
    return row["quantity"] == K, -row["gain_share"]


def _one(rows: Sequence[Row], join: Callable[[Row, Sequence[Row]], Row]) -> Row:
    first, others = rows[0], rows[1:]
    done = {**first, **join(first, rows)}
    done["also"] = ", ".join(row["quantity"] for row in others) or None
    done["worth"] = sum(row["gain_share"] for row in rows) / done["cost"]
    if others:
        told = [f"{row['quantity']}: {row['reason']}" for row in rows]
        done["reason"] = "; ".join(told)
    return done


def by_worth(rows: Sequence[Row]) -> list[Row]:
    """Rows with their rank, those that decide most for their cost first."""
    order = sorted(rows, key=lambda row: -row["worth"])
    return [{**row, "rank": rank} for rank, row in enumerate(order, start=1)]


def quantities_of(row: Row) -> str:
    """The quantities that a proposal serves, the leading one first, in words."""
    named = (row["quantity"], row.get("also"))
    return ", ".join(name for name in named if isinstance(name, str) and name)
