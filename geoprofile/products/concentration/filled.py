"""What a campaign holds of earlier rounds, how old it is, and what is too little: in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.engine.rows import finding, joined
from geoprofile.errors import UsageError
from geoprofile.products.concentration.campaigns import AND_EARLIER
from geoprofile.products.concentration.inputs import rounds_in_order
from geoprofile.site import Site, records_of

Row = dict[str, Any]
FEWEST_BOREHOLES = 3  # as for maps: fewer span nothing
OLD = "old: sampled"  # a note that starts so marks a result as old


def marked_old(rows: Sequence[Row], old_days: float) -> list[Row]:
    """The rows, with a note on each that is old.

    Parameters
    ----------
    rows : sequence of dict
        Of `in_campaigns`.
    old_days : float [d]
        Age from which a result is old.

    Returns
    -------
    list of dict
        The same rows.
    """
    return [
        {**row, "notes": joined([_old_note(row), *filter(None, [row.get("notes")])])}
        if row["age_d"] is not None and row["age_d"] > old_days
        else row
        for row in rows
    ]


def _old_note(row: Row) -> str:
    return f"{OLD} {row['age_d']:.0f} d before the latest of {row['round']}"


def told(
    rows: Sequence[Row], declared: Mapping[str, Sequence[str]], rounds: set[str], old_days: float
) -> list[dict[str, str]]:
    """Findings on campaigns that earlier results fill up, and on declared ones without results.

    Parameters
    ----------
    rows : sequence of dict
        Of `in_campaigns`.
    declared : Mapping
        Campaigns of the user.
    rounds : set of str
        Rounds with a result that counts.
    old_days : float [d]
        Age from which a result is old.

    Returns
    -------
    list of dict
        Rows for the table `finding`.

    Raises
    ------
    UsageError
        A campaign with the name of a round that is not one of its own.
    """
    for name, own in declared.items():
        if name in rounds and name not in own:
            raise UsageError(
                "site.toml [concentration] campaigns",
                f"'{name}', which is the name of a round too",
                "a name of its own, or the round among its rounds",
                "Choose another name.",
            )
    found = [
        finding(
            "sample",
            name,
            f"campaign '{name}' names round '{missing}', which has no result",
            what_to_do="Correct [concentration] campaigns in site.toml.",
        )
        for name, own in declared.items()
        for missing in own
        if missing not in rounds
    ]
    names = dict.fromkeys(str(r["round"]) for r in rows if r["round"].endswith(AND_EARLIER))
    return found + [_filled_up([r for r in rows if r["round"] == n], n, old_days) for n in names]


def _filled_up(rows: Sequence[Row], name: str, old_days: float) -> dict[str, str]:
    old = any(r["age_d"] is not None and r["age_d"] > old_days for r in rows)
    return finding(
        "sample",
        name,
        _words(rows, name),
        what_to_do="Nothing, if these results still hold. Else sample again, or declare which "
        "rounds belong together: [concentration] campaigns in site.toml.",
        severity="warning" if old else "note",
    )


def _words(rows: Sequence[Row], name: str) -> str:
    """Which intervals stand in a campaign with an earlier result, and how old the oldest is."""
    own = name.removesuffix(AND_EARLIER)
    earlier = [r for r in rows if r["sampled_round"] != own]
    by_interval = {str(r["interval"]): str(r["sampled_round"]) for r in earlier}
    whence = Counter(by_interval.values())
    everywhere = {str(r["interval"]) for r in rows}
    ages = [r["age_d"] for r in earlier if r["age_d"] is not None]
    oldest = f", up to {max(ages):.0f} d older than the latest sample" if ages else ""
    marked = {r["interval"] for r in earlier if str(r.get("notes") or "").startswith(OLD)}
    old = f"; {len(marked)} of them are marked as old" if marked else ""
    sources = ", ".join(f"{count} of {name}" for name, count in whence.items())
    return (
        f"round {own} left out {len(by_interval)} of {len(everywhere)} intervals: for them "
        f"the result of an earlier round counts ({sources})"
        f"{oldest}{old}"
    )


def in_words(site: Site) -> tuple[str, ...]:
    """What the reader of any map must know first: results of earlier rounds, too few boreholes."""
    table = site.concentration
    water = table[table["medium"] == "water"]
    if water.empty:
        return ()
    latest: dict[str, list[Row]] = {}
    few: list[str] = []
    for analyte, group in water.groupby("analyte", sort=True):
        name = rounds_in_order(group)[-1]
        rows = records_of(group[group["round"] == name])
        latest.setdefault(name, []).extend(rows)
        holes = len({r["borehole"] for r in rows})
        if holes < FEWEST_BOREHOLES:
            few.append(
                f"{analyte} ({name}): results in {holes} borehole(s) only. No map, section, "
                "volume, discharge or advice: fewer than three boreholes span nothing."
            )
    filled = [
        f"Results of {name}: {_words(rows, name)}."
        for name, rows in latest.items()
        if name.endswith(AND_EARLIER)
    ]
    return (*filled, *few)
