"""Which result of an interval counts: rounds of sampling brought together into campaigns.

A round that is in no declared campaign shows the latest result of every interval up to then: what
it sampled itself, and the earlier results of the intervals that it did not visit. A declared
campaign shows the latest results among its own rounds and nothing else. Every product goes by these
rows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from geoprofile.errors import UsageError

Row = dict[str, Any]
AND_EARLIER = " and earlier"  # after the name of a round that earlier results fill up
COVERED = 0.5  # [-] of an interval, from which later samples of other intervals stand for it


@dataclass(frozen=True)
class Campaign:
    """Rounds that count as one; `declared` by the user, or one round as it is."""

    name: str
    rounds: tuple[str, ...]
    declared: bool


def declared_campaigns(said: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """The campaigns that the user declared, each as "name: round, round".

    Raises
    ------
    UsageError
        Another form, or a round or a name that comes twice.

    Examples
    --------
    >>> declared_campaigns(["summer: 2025 Q2, 2025 Q3"])
    {'summer': ('2025 Q2', '2025 Q3')}
    """
    found: dict[str, tuple[str, ...]] = {}
    for text in said:
        name, colon, rest = str(text).rpartition(":")
        rounds = tuple(r.strip() for r in rest.split(",") if r.strip())
        taken = {r for others in found.values() for r in others}
        twice = [r for r in rounds if r in taken or rounds.count(r) > 1]
        if not colon or not name.strip() or not rounds or name.strip() in found or twice:
            raise UsageError(
                "site.toml [concentration] campaigns",
                f"'{text}'" + (f", round {twice[0]} twice" if twice else ""),
                'a text such as "summer 2025: 2025 Q2, 2025 Q3", each name and round once',
                "Correct it.",
            )
        found[name.strip()] = rounds
    return found


def in_campaigns(rows: Iterable[Row], declared: Mapping[str, Sequence[str]]) -> list[Row]:
    """The rows that count in each campaign, in place of one row per round.

    Parameters
    ----------
    rows : iterable of dict
        Rows of `concentration`, one per interval, analyte, medium and round.
    declared : Mapping
        Campaigns as `declared_campaigns` gives them.

    Returns
    -------
    list of dict
        The same rows under the name of their campaign in `round`, each with the round of its
        sample in `sampled_round` and its age [d] before the latest sample of that campaign.

    Notes
    -----
    A later result takes the place of earlier ones of the same interval, analyte and medium, and of
    those of other intervals of the borehole of which later samples cover half or more: zones
    are often cut anew (a rule of ours, no source).
    """
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        groups[str(row["analyte"]), str(row["medium"])].append(row)
    return [done for key in sorted(groups) for done in _of_analyte(groups[key], declared)]


def _of_analyte(rows: Sequence[Row], declared: Mapping[str, Sequence[str]]) -> Iterator[Row]:
    by_round: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_round[str(row["round"])].append(row)
    order = sorted(by_round, key=lambda name: (_last(by_round[name]), name))
    state: dict[str, Row] = {}
    left = {c.rounds[-1]: c for c in _campaigns(order, declared)}
    for name in order:
        state = _updated(state, by_round[name])
        campaign = left.get(name)
        if campaign is None:
            continue
        kept = state
        if campaign.declared:
            kept = {}
            for each in campaign.rounds:
                kept = _updated(kept, by_round[each])
        yield from _named(campaign, kept.values())


def _campaigns(order: Sequence[str], declared: Mapping[str, Sequence[str]]) -> list[Campaign]:
    """The campaigns of an analyte, their rounds in order of time."""
    of_round = {r: name for name, rounds in declared.items() for r in rounds}
    grouped: dict[tuple[str, bool], list[str]] = defaultdict(list)
    for name in order:
        grouped[of_round.get(name, name), name in of_round].append(name)
    return [Campaign(name, tuple(rounds), said) for (name, said), rounds in grouped.items()]


def _updated(state: Mapping[str, Row], rows: Sequence[Row]) -> dict[str, Row]:
    """What counts after a round: its rows, and the earlier ones that they do not replace."""
    kept = {
        name: old
        for name, old in state.items()
        if not _covered(old, [r for r in rows if r["interval"] != name])
    }
    for row in rows:
        old = kept.get(str(row["interval"]))
        if old is None or (_says_something(row) and not _older(row, old)):
            kept[str(row["interval"])] = row
    return kept


def _says_something(row: Mapping[str, Any]) -> bool:
    """Whether it holds a value, or a limit below which it lies."""
    return bool(row["detected"]) or row["limit_ug_per_l"] is not None


def _older(row: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether it was sampled before the other; unknown times are taken in the order of rounds."""
    return bool(_time(row)) and _time(row) < _time(other)


def _covered(old: Row, rows: Sequence[Row]) -> bool:
    """Whether samples of other intervals, none of them older, stand for an earlier one."""
    length = float(old["bottom_m"]) - float(old["top_m"])
    reach, shared = float(old["top_m"]), 0.0
    same = [r for r in rows if r["borehole"] == old["borehole"] and _time(r) >= _time(old)]
    for row in sorted(same, key=lambda r: float(r["top_m"])):
        top = max(reach, float(row["top_m"]))
        bottom = min(float(old["bottom_m"]), float(row["bottom_m"]))
        shared, reach = shared + max(0.0, bottom - top), max(reach, bottom)
    return length > 0 and shared >= COVERED * length


def _named(campaign: Campaign, rows: Iterable[Row]) -> Iterator[Row]:
    """Rows under the name of their campaign, with their own round and their age."""
    chosen = list(rows)
    last = max((_time(row) for row in chosen), default="")
    filled = any(row["round"] not in campaign.rounds for row in chosen)
    name = campaign.name + (AND_EARLIER if filled else "")
    for row in sorted(chosen, key=lambda r: str(r["interval"])):
        yield {**row, "round": name, "sampled_round": row["round"], "age_d": _age(row, last)}


def _time(row: Mapping[str, Any]) -> str:
    """When a row was sampled, in a form that sorts; "" for unknown."""
    return str(row["sampled_at"] or "")


def _last(rows: Sequence[Row]) -> str:
    return max(map(_time, rows))


def _age(row: Row, last: str) -> float | None:
    """Days from a sample to the latest one [d]; None where a time is missing."""
    if not _time(row) or not last:
        return None
    then, now = (datetime.fromisoformat(t.replace("Z", "+00:00")) for t in (_time(row), last))
    if (then.tzinfo is None) != (now.tzinfo is None):
        then, now = then.replace(tzinfo=None), now.replace(tzinfo=None)
    return max(0.0, (now - then).total_seconds() / 86400.0)


def is_round(name: str | None, asked: str) -> bool:
    """Whether a campaign goes by a name: its own, or that of its round without `AND_EARLIER`.

    Parameters
    ----------
    name : str, optional
        As in the table `concentration`.
    asked : str
        As a user says it.

    Returns
    -------
    bool
        Also for the name of a round that earlier results fill up.
    """
    return name in (asked, asked + AND_EARLIER)
