"""The latest round of each analyte, as a figure to compare between runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def key_figures(site: Site) -> Iterator[tuple[str, str, str]]:
    """Figure with its unit, item and value, to be compared between runs."""
    for analyte, name in latest_rounds(site).items():
        yield "latest_round", analyte, name


def latest_rounds(site: Site) -> dict[str, str]:
    """The latest round or campaign of each analyte."""
    found: dict[str, tuple[str, str]] = {}
    for row in records_of(site.concentration):
        name = str(row["analyte"])
        at = (str(row["sampled_at"] or ""), str(row["round"]))
        found[name] = max(at, found.get(name, ("", "")))
    return {name: found[name][1] for name in sorted(found)}


def named(quantity: str, round_name: str | None, latest: Mapping[str, str]) -> str:
    """An item: of the latest round without its name, so that it is the same after the next one.

    Parameters
    ----------
    quantity : str
        K or an analyte.
    round_name : str or None
        Its round; None for K.
    latest : Mapping
        As from `latest_rounds`.

    Returns
    -------
    str
        The quantity, with its round if that is an earlier one.
    """
    if round_name in (None, latest.get(quantity)):
        return quantity
    return f"{quantity} {round_name}"
