"""How well earlier advice did: what was predicted, held against what was found since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.levels import SHOWN_UNITS
from geoprofile.products.advice.known import percent, short
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

K = "K"
DONE = 0.5  # [-] share of a proposed zone that a later result must cover
SPOT = ("quantity", "round", "borehole", "top_m", "bottom_m")
TOLD = ("predicted_low", "predicted_median", "predicted_high", "predicted_unit")
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Result:
    """A result where a test was proposed; `value` or, where nothing was detected, `limit`.

    All in `unit`; `low` and `high` are the ends of the 80 % interval that was predicted.
    """

    borehole: str
    top_m: float
    bottom_m: float
    low: float
    median: float
    high: float
    unit: str
    value: float | None
    limit: float | None

    @property
    def inside(self) -> bool:
        """Whether the result agrees with the interval; a limit does unless it lies below."""
        if self.value is not None:
            return self.low <= self.value <= self.high
        return self.limit is not None and self.limit >= self.low

    @property
    def words(self) -> str:
        """For example `B4 12.0 to 14.0 m: predicted 12 (3 to 40) µg/L, found 9.5: inside`."""
        unit = SHOWN_UNITS.get(self.unit, self.unit)
        span = f"{short(self.median)} ({short(self.low)} to {short(self.high)}) {unit}"
        found = f"below {short(self.limit or 0.0)}" if self.value is None else short(self.value)
        return (
            f"{self.borehole} {self.top_m:.1f} to {self.bottom_m:.1f} m: predicted {span},"
            f" found {found}: {'inside' if self.inside else 'outside'}"
        )


@dataclass(frozen=True)
class Record:
    """The last advice on a quantity of which a test was done, and all results since the first.

    `before_m3`, `gain_m3` and `now_m3` are the volume of uncertain classification at the time, its
    expected fall by the tests that were done, and the volume of uncertain classification now.
    """

    quantity: str
    proposed: int
    results: tuple[Result, ...]
    before_m3: float
    gain_m3: float
    now_m3: float | None
    inside: int
    judged: int

    @property
    def words(self) -> str:
        """One sentence for each thing that was predicted."""
        what = (
            "the variance of log10 K"
            if self.quantity == K
            else "the volume of uncertain classification"
        )
        told = "; ".join(result.words for result in self.results)
        text = (
            f"{self.quantity}: of {self.proposed} tests proposed earlier {len(self.results)} done."
            f" {told}."
        )
        if self.now_m3 is not None and self.before_m3 > 0:
            fall = 1.0 - self.now_m3 / self.before_m3
            moved = f"fell by {percent(fall)}" if fall >= 0 else f"rose by {percent(-fall)}"
            expected = percent(self.gain_m3 / self.before_m3)
            text += f" Predicted that {what} would fall by {expected}; it {moved}."
        if self.judged > len(self.results):
            text += f" So far {self.inside} of {self.judged} results lay in their 80 % interval."
        return text


def forecasts_to_keep(before: Site, after: Site) -> pd.DataFrame:
    """The forecasts of a new advice as rows of the table `forecast`.

    Parameters
    ----------
    before : Site
        With the forecasts that were kept so far.
    after : Site
        With the new tables next_test and remaining uncertainty.

    Returns
    -------
    DataFrame
        One row per proposed test; advice that did not change keeps its number.
    """
    import pandas as pd

    numbers = {str(r["forecast"]): int(r["advice"]) for r in records_of(before.table("forecast"))}
    latest: dict[str, int] = {}
    for row in records_of(before.table("forecast")):
        name = str(row["quantity"])
        latest[name] = max(latest.get(name, 0), int(row["advice"]))
    remaining_uncertainty = {
        r["quantity"]: r for r in records_of(after.table("remaining_uncertainty"))
    }
    rows: dict[str, list[dict[str, Any]]] = {}
    for test in records_of(after.table("next_test")):
        name = str(test["quantity"])
        about = remaining_uncertainty[name]
        row = {key: test.get(key) for key in (*SPOT, *TOLD)}
        row |= {
            "round": about["round"],
            "gain_m3": test["gain_share"] * about["uncertain_m3"],
            "uncertain_m3": about["uncertain_m3"],
        }
        text = json.dumps(row, sort_keys=True)
        row["forecast"] = hashlib.sha256(text.encode()).hexdigest()
        rows.setdefault(name, []).append(row)
    kept = []
    for name, new in rows.items():
        last = latest.get(name, 0)
        same = all(numbers.get(row["forecast"]) == last for row in new)
        kept += [{**row, "advice": last if same else last + 1} for row in new]
    names = [column for column in before.table("forecast").columns if column != "geometry"]
    return pd.DataFrame(kept, columns=names)


def to_keep(before: Site, after: Site, derived: Collection[str]) -> dict[str, pd.DataFrame]:
    """Rows of `forecast` where the advice was computed anew, to be held against later results.

    Parameters
    ----------
    before, after : Site
        As the site was, and with the tables computed.
    derived : Collection of str
        Tables that were computed.

    Returns
    -------
    dict of str to DataFrame
        Rows to keep by table; empty where there is no new advice.
    """
    if "next_test" not in derived:
        return {}
    return {"forecast": forecasts_to_keep(before, after)}


def records_in_words(site: Site) -> tuple[str, ...]:
    """How well earlier advice did, a sentence or two for each.

    Parameters
    ----------
    site : Site
        As `track_record` takes it.

    Returns
    -------
    tuple of str
        In the order of `track_record`.
    """
    return tuple(record.words for record in track_record(site))


def track_record(site: Site) -> tuple[Record, ...]:
    """How the forecasts did, quantity by quantity.

    Parameters
    ----------
    site : Site
        Tables forecast, remaining uncertainty, interval_conductivity and concentration.

    Returns
    -------
    tuple of Record
        Only quantities for which a proposed test was done.
    """
    advice: dict[str, dict[int, list[Row]]] = {}
    for row in records_of(site.table("forecast")):
        advice.setdefault(str(row["quantity"]), {}).setdefault(int(row["advice"]), []).append(row)
    left = {
        str(r["quantity"]): float(r["uncertain_m3"])
        for r in records_of(site.table("remaining_uncertainty"))
    }
    found = [_record(site, name, sets, left.get(name)) for name, sets in sorted(advice.items())]
    return tuple(record for record in found if record is not None)


def _record(
    site: Site, quantity: str, sets: Mapping[int, Sequence[Row]], now_m3: float | None
) -> Record | None:
    """The newest advice of which a test was done; None when there is none."""
    last: tuple[Sequence[Row], list[tuple[Row, Result]]] | None = None
    all_results: dict[tuple[str, float, float], Result] = {}
    for number in sorted(sets):
        known = _results(site, quantity, sets[number][0]["round"])
        pairs = [(row, hit) for row in sets[number] if (hit := _result(row, known)) is not None]
        all_results |= {(r.borehole, r.top_m, r.bottom_m): r for _, r in pairs}
        last = (sets[number], pairs) if pairs else last
    if last is None:
        return None
    rows, pairs = last
    return Record(
        quantity,
        len(rows),
        tuple(result for _, result in pairs),
        float(rows[0]["uncertain_m3"]),
        sum(float(row["gain_m3"]) for row, _ in pairs),
        now_m3,
        sum(result.inside for result in all_results.values()),
        len(all_results),
    )


def _results(site: Site, quantity: str, round_name: str | None) -> list[Row]:
    """Results that can have come after a forecast: of its round or of later ones."""
    if quantity == K:
        table = site.table("interval_conductivity")
        return [
            {**row, "value": row["k_m_per_s"], "limit": None}
            for row in records_of(table[table["grade"] != "rejected"])
            if row["k_m_per_s"] is not None
        ]
    table = site.table("concentration")
    rows = records_of(table[(table["analyte"] == quantity) & (table["medium"] == "water")])
    at = {row["round"]: "" for row in rows}
    for row in rows:
        at[row["round"]] = max(at[row["round"]], str(row["sampled_at"] or ""))
    since = at.get(round_name, "")
    return [
        {
            **row,
            "value": row["value_ug_per_l"] if row["detected"] else None,
            "limit": row["limit_ug_per_l"],
        }
        for row in rows
        if row["round"] == round_name or at[row["round"]] > since
    ]


def _result(forecast: Row, known: Sequence[Row]) -> Result | None:
    """The result that covers most of a proposed zone, if one covers enough of it."""
    top, bottom = float(forecast["top_m"]), float(forecast["bottom_m"])

    def covered(row: Row) -> float:
        shared = min(bottom, row["bottom_m"]) - max(top, row["top_m"])
        return float(shared) / (bottom - top)

    here = [row for row in known if row["borehole"] == forecast["borehole"]]
    best = max(here, key=covered, default=None)
    if best is None or covered(best) < DONE:
        return None
    return Result(
        str(forecast["borehole"]),
        top,
        bottom,
        float(forecast["predicted_low"]),
        float(forecast["predicted_median"]),
        float(forecast["predicted_high"]),
        str(forecast["predicted_unit"]),
        best["value"],
        best["limit"],
    )
