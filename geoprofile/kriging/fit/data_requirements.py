"""What data allow: names and fields that are refused, and what a reader of the map must know."""

from __future__ import annotations

import numpy as np

from geoprofile.errors import DataError, UsageError
from geoprofile.kriging.covariance.data import Data

FEWEST_DATA = 3
FEW_DATA = 8
FEW_BOREHOLES = 3


def check_name(what: str, name: str, known: tuple[str, ...]) -> None:
    """Refuse a name that is not known.

    Parameters
    ----------
    what : str
        What it names.
    name : str
        As given.
    known : tuple of str
        Those there are.

    Raises
    ------
    UsageError
        It is none of them.
    """
    if name not in known:
        raise UsageError(
            f"{what} of the field", f"'{name}'", f"one of {', '.join(known)}", "Choose one of them."
        )


def refuse(data: Data) -> None:
    """Say no where a field would be made up.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].

    Raises
    ------
    DataError
        Too few data, or none detected.
    """
    detected = int((~data.censored).sum())
    if len(data) and not detected:
        raise DataError(
            "field data",
            f"no detection in {len(data)} tests",
            "at least one measured value",
            "Report the highest limit as an upper bound; there is no field to map.",
        )
    if len(data) < FEWEST_DATA:
        raise DataError(
            "field data",
            f"{len(data)} usable tests",
            f"at least {FEWEST_DATA}, and {FEW_DATA} in {FEW_BOREHOLES} boreholes to be useful",
            "Add results, or map the measured intervals only.",
        )


def warnings_of(data: Data) -> tuple[str, ...]:
    """What a reader of the map must know of the data.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].

    Returns
    -------
    tuple of str
        One sentence each.
    """
    words = []
    detected = int((~data.censored).sum())
    boreholes = len(np.unique(np.asarray(data.group)))
    if boreholes < FEW_BOREHOLES:
        words.append(f"only {boreholes} borehole(s): between and beyond them the prior speaks")
    if len(data) < FEW_DATA:
        words.append(f"only {len(data)} tests: lengths and sill are mostly the prior's")
    if detected < 5 or detected < 0.2 * len(data):
        words.append(f"only {detected} of {len(data)} tests detected: levels are poorly known")
    values = np.asarray(data.value)[~data.censored]
    if detected > 1 and np.ptp(values) == 0.0:
        words.append("all detected values are equal: the spread is the prior's")
    return tuple(words)
