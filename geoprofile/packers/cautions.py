"""What to mind in the field; the maker's limits, local codes and licensed practice come first."""

from __future__ import annotations

import math
from collections.abc import Sequence

FIRST = "Maker's limits, local codes and licensed practice come first"
FIELD_CAUTIONS = (
    "Maker's limits, local codes, the site's safety plan and licensed practice come before this"
    " sheet. Where they differ, they hold.",
    "Stored gas: use a regulator and a relief valve set below the packer's limit; nobody over the"
    " hole or in line with hoses while pressure is on. Tie hoses against whip.",
    "Never raise a pressure above the limit to stop a leak. Rock and casing have limits too: ask"
    " who is responsible for them before inflating or injecting.",
    "Deflate fully, vent and wait before pulling; a packer that is pulled inflated can part the"
    " string.",
    "Lifting: rated gear, clamp on the string at all times, nobody under the load. Overhead lines"
    " and buried services: clear them before the rig moves.",
    "Water and gas from the hole may be harmful: gloves and eye protection, gas meter at the"
    " collar, no flame, contain the purge water. Clean the tool between zones.",
)
DRILLING_CAUTION = (
    f"{FIRST}. Clear overhead and buried services, get permits and a licensed driller; an open hole"
    " lets contaminated water move between layers: case, seal or test it without delay"
)
SLOW_H = 8.0  # [h] longer than a working day


def cautions(
    *, limit_kpa: float | None = None, purge_h: float | None = None, extra: Sequence[str] = ()
) -> str:
    """What to mind before going out, for a table cell.

    Parameters
    ----------
    limit_kpa : float [kPa], optional
        The maker's inflation limit.
    purge_h : float [h], optional
        Time that purging takes at the rate the rock is expected to give.
    extra : sequence of str [-]
        Cautions of this very set-up.

    Returns
    -------
    str [-]
        Sentences.

    References
    ----------
    Common practice, no source.
    """
    words = [f"{FIRST}. Check hole diameter and rock at both packer elements before inflating"]
    if limit_kpa is not None:
        words.append(
            f"Stored gas is dangerous: never above {limit_kpa:.0f} kPa, nobody over the hole while"
            " inflating, vent and check before pulling"
        )
    words.append("The water may be contaminated: gloves, contained purge water, gas check")
    if purge_h is not None and purge_h > SLOW_H:
        hours = "for ever" if math.isinf(purge_h) else f"about {purge_h:.0f} h"
        words.append(f"The rock gives little water: purging takes {hours}")
    return ". ".join([*words, *extra]) + "."
