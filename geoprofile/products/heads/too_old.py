"""Heads that are left out for their age, in words: with the rule and the setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoprofile.engine.rows import finding
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMED = 6  # boreholes; the others are counted


def left_out(heads: pd.DataFrame, recent: pd.DataFrame, days: float) -> str | None:
    """Which boreholes have no head that is recent enough, and by which rule.

    Parameters
    ----------
    heads : DataFrame
        Table `head`.
    recent : DataFrame
        Those of its rows that are recent enough.
    days : float [d]
        Age before the latest head from which heads are left out.

    Returns
    -------
    str or None
        None where every borehole has a recent head.
    """
    gone = sorted(set(heads["borehole"].astype(str)) - set(recent["borehole"].astype(str)))
    if not gone:
        return None
    newest = max(records_of(heads), key=lambda row: str(row["measured_at"] or ""))
    more = f" and {len(gone) - MOST_NAMED} more" if len(gone) > MOST_NAMED else ""
    return (
        f"the heads of {len(gone)} borehole(s) ({', '.join(gone[:MOST_NAMED])}{more}) are left "
        f"out: measured more than {days:g} days before the latest one ({newest['borehole']}, "
        f"{str(newest['measured_at'])[:10]}), the limit set by flow.days"
    )


def finding_of(words: str) -> dict[str, str]:
    """A finding on heads that are left out."""
    return finding(
        "head",
        "",
        words,
        what_to_do="Measure all boreholes at one time, or set days under [flow] in site.toml where "
        "the older heads still hold.",
    )
