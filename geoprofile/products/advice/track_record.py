"""How well earlier advice did: what was predicted, held against what was found since."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
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
NEAR_M = 5.0  # [m] a hole drilled so near to a proposed place is the one proposed
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
    of_boreholes: bool = False

    @property
    def _noun(self) -> str:
        return "zones of new boreholes" if self.of_boreholes else "tests"

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
            f"{self.quantity}: of {self.proposed} {self._noun} proposed earlier"
            f" {len(self.results)} done."
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
        With the new tables next_test, next_borehole_zone and remaining uncertainty.

    Returns
    -------
    DataFrame
        One row per proposed test and per zone of a proposed borehole; advice that did not change
        keeps its number, and the time until which results were known to it.
    """
    import pandas as pd

    earlier = {str(r["forecast"]): r for r in records_of(before.table("forecast"))}
    latest: dict[tuple[str, bool], int] = {}
    for row in earlier.values():
        latest[_set_of(row)] = max(latest.get(_set_of(row), 0), int(row["advice"]))
    about = {r["quantity"]: r for r in records_of(after.table("remaining_uncertainty"))}
    rows: dict[tuple[str, bool], list[dict[str, Any]]] = {}
    for proposal in _proposals(after):
        if proposal["quantity"] not in about:
            continue
        row = _forecast(proposal, about[proposal["quantity"]])
        rows.setdefault(_set_of(row), []).append(row)
    kept = []
    for key, new in rows.items():
        last = latest.get(key, 0)
        until = known_until(after, key[0])
        olds = [earlier.get(row["forecast"]) for row in new]
        if all(old is not None and old["advice"] == last for old in olds):
            kept += [dict(old) for old in olds if old is not None]
        else:
            kept += [{**row, "advice": last + 1, "known_until": until} for row in new]
    names = [column for column in before.table("forecast").columns if column != "geometry"]
    return pd.DataFrame(kept, columns=names)


def _proposals(site: Site) -> Iterator[Row]:
    """Every quantity of every proposed test and zone, each once."""
    seen = set()
    for name in ("next_test", "next_test_quantity"):
        for row in records_of(site.table(name)):
            key = (row["quantity"], row["borehole"], row["top_m"], row["bottom_m"])
            if key not in seen:
                seen.add(key)
                yield row
    yield from records_of(site.table("next_borehole_zone"))


def _set_of(row: Row) -> tuple[str, bool]:
    """What is advised together: the quantity, and whether in new boreholes."""
    return str(row["quantity"]), row.get("borehole") is None


def _forecast(proposal: Row, about: Row) -> dict[str, Any]:
    row = {key: proposal.get(key) for key in (*SPOT, *TOLD)}
    row |= {
        "round": about["round"],
        "gain_m3": proposal["gain_share"] * about["uncertain_m3"],
        "uncertain_m3": about["uncertain_m3"],
    }
    if row["borehole"] is None:
        row |= {"x_m": proposal["x_m"], "y_m": proposal["y_m"]}
    text = json.dumps(row, sort_keys=True)
    return {**row, "forecast": hashlib.sha256(text.encode()).hexdigest()}


def known_until(site: Site, quantity: str) -> str | None:
    """The time of the newest result of a quantity, as the tables write times.

    Parameters
    ----------
    site : Site
        Tables test and concentration.
    quantity : str
        "K" or an analyte.

    Returns
    -------
    str or None
        None where no result has a time.
    """
    if quantity == K:
        made = set(site.table("conductivity")["test"].astype(str))
        tests = records_of(site.tests)
        times = [t["started_at"] for t in tests if str(t["test"]) in made]
    else:
        table = site.table("concentration")
        times = list(table.loc[table["analyte"] == quantity, "sampled_at"])
    return max((str(t) for t in times if isinstance(t, str) and t), default=None)


def to_keep(before: Site, after: Site, derived: Collection[str]) -> list[tuple[str, pd.DataFrame]]:
    """Rows of `forecast` where the advice was computed anew, to be held against later results."""
    if not {"next_test", "next_borehole"} & set(derived):
        return []
    return [("forecast", forecasts_to_keep(before, after))]


def records_in_words(site: Site) -> tuple[str, ...]:
    """How well earlier advice did, a sentence or two for each."""
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
    advice: dict[tuple[str, bool], dict[int, list[Row]]] = {}
    for row in records_of(site.table("forecast")):
        advice.setdefault(_set_of(row), {}).setdefault(int(row["advice"]), []).append(row)
    left = {
        str(r["quantity"]): float(r["uncertain_m3"])
        for r in records_of(site.table("remaining_uncertainty"))
    }
    found = [
        _record(site, key[0], sets, left.get(key[0]), of_boreholes=key[1])
        for key, sets in sorted(advice.items())
    ]
    return tuple(record for record in found if record is not None)


def _record(
    site: Site,
    quantity: str,
    sets: Mapping[int, Sequence[Row]],
    now_m3: float | None,
    *,
    of_boreholes: bool,
) -> Record | None:
    """The newest advice of which a test was done; None when there is none."""
    last: tuple[Sequence[Row], list[tuple[Row, Result]]] | None = None
    all_results: dict[tuple[str, float, float], Result] = {}
    starts = _starts(site) if of_boreholes else {}
    for number in sorted(sets):
        first = sets[number][0]
        since = str(first.get("known_until") or "")
        known = [
            row
            for row in _results(site, quantity, first["round"])
            if not row["at"] or row["at"] > since
        ]
        if of_boreholes:
            sets = {**sets, number: [_in_its_hole(row, starts) for row in sets[number]]}
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
        of_boreholes,
    )


def _starts(site: Site) -> dict[str, tuple[float, float]]:
    """Where each hole starts [m]."""
    holes = site.boreholes
    names = holes["borehole"].astype(str)
    return {n: (g.x, g.y) for n, g in zip(names, holes["geometry"], strict=True)}


def _in_its_hole(row: Row, starts: Mapping[str, tuple[float, float]]) -> Row:
    """The forecast of a proposed borehole under the name of the hole drilled there since."""
    x, y = float(row["x_m"]), float(row["y_m"])
    apart = {name: math.hypot(at[0] - x, at[1] - y) for name, at in starts.items()}
    nearest = min(apart, key=lambda name: apart[name], default=None)
    if nearest is None or apart[nearest] > NEAR_M:
        return row
    return {**row, "borehole": nearest}


def _results(site: Site, quantity: str, round_name: str | None) -> list[Row]:
    """Results that can have come after a forecast: of its round or of later ones."""
    if quantity == K:
        table = site.table("interval_conductivity")
        made = _newest_tests(site)
        return [
            {
                **row,
                "value": row["k_m_per_s"],
                "limit": None,
                "at": made.get(str(row["interval"]), ""),
            }
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
            "at": str(row["sampled_at"] or ""),
        }
        for row in rows
        if row["round"] == round_name or at[row["round"]] > since
    ]


def _newest_tests(site: Site) -> dict[str, str]:
    """When the newest test of each interval began; "" where no test says so."""
    newest: dict[str, str] = {}
    for row in records_of(site.tests):
        name = str(row["interval"])
        newest[name] = max(newest.get(name, ""), str(row["started_at"] or ""))
    return newest


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
