"""What the heads of a site do not allow, in words for the head of the summary."""

from __future__ import annotations

from geoprofile.engine import settings_used
from geoprofile.products.heads.flow import mean_heads, recent_heads
from geoprofile.products.heads.too_old import left_out
from geoprofile.site import Site


def in_words(site: Site) -> tuple[str, ...]:
    """What the reader of flow and discharge must know first.

    Parameters
    ----------
    site : Site
        Tables head and flow.

    Returns
    -------
    tuple of str
        Heads that are too old; that there is no direction of flow, and why.
    """
    heads = site.table("head")
    if heads.empty:
        return ()
    days = float(settings_used(site, "flow")["days"])
    recent = recent_heads(heads, days)
    old = left_out(heads, recent, days)
    lines = [] if old is None else [f"Heads: {old}."]
    if site.table("flow").empty:
        lines.append(
            f"No direction of flow and no mass discharge: heads in {len(mean_heads(recent))} "
            "borehole(s), of three at least."
        )
    return tuple(lines)
