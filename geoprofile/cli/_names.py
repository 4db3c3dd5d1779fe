"""Names for pick lists: tables, boreholes, quantities, settings. Nothing heavy is loaded."""

from __future__ import annotations

from pathlib import Path

from geoprofile.schema import TABLES
from geoprofile.store import Store
from geoprofile.store.listing import quantities


def known_names(what: str, site: Path | None) -> list[str]:
    """The names of one kind, in their order.

    Parameters
    ----------
    what : str
        "tables", "boreholes", "quantities", "formats", "settings" or "topics".
    site : Path or None
        The site file, for what it holds.

    Returns
    -------
    list of str
        Empty where there is no site file to ask.
    """
    if what == "formats":
        from geoprofile.plugins.registry import plugins

        return list(plugins("formats"))
    if what == "settings":
        from geoprofile.plugins.registry import plugins

        return [f"{x.name}.{s.name}=" for x in plugins("layers").values() for s in x.settings]
    if what == "topics":
        return list(TABLES)
    if site is None:
        return []
    if what == "tables":
        return [*Store.peek(site).tables(), "runs"]
    if what == "boreholes":
        return [str(name) for (name,) in Store.peek(site).rows("borehole", ["borehole"])]
    return quantities(Store.peek(site))
