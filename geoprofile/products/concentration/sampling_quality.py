"""How far the samples can be trusted: duplicates, blanks and holding times, result by result."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from geoprofile.engine.rows import finding, frame, number, text
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.concentration.inputs import measured
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Record = Mapping[str, Any]
FINE, DOUBTFUL, OPEN = "fine", "doubtful", "not comparable"
# common practice, no source: a relative difference says little near the limit
NEAR_LIMIT = 5.0
DAY_S = 86_400.0


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Every duplicate beside its primary sample, every blank, and every holding time that is known.

    Returns
    -------
    Mapping
        Table `sampling_quality` [ug/L]; findings on holding times that were passed.

    Notes
    -----
    Relative difference is |a - b| over the mean of both. Where a value lies below five times its
    limit, the pair is doubtful if the difference exceeds the larger limit instead (common practice,
    no source).
    """
    results: Sequence[Record] = records_of(measured(site))
    rows = [
        *_duplicates(results, float(settings["largest_difference"])),
        *_blanks(results, float(settings["blank_factor"])),
        *_holding(results),
    ]
    late = [r for r in rows if r["check_of"] == "holding time" and r["verdict"] == DOUBTFUL]
    progress(1, 1)
    return {
        "sampling_quality": frame("sampling_quality", rows, site.crs),
        "finding": frame("finding", [_late(r) for r in late], site.crs),
    }


def _duplicates(results: Sequence[Record], largest: float) -> Iterable[dict[str, Any]]:
    """A row per analyte of each duplicate, beside the primary sample nearest in time."""
    places: dict[tuple[Any, ...], dict[str, list[Record]]] = defaultdict(lambda: defaultdict(list))
    for row in results:
        if row["kind"] != "blank" and text(row["interval"]):
            place = (row["interval"], row["round"], row["medium"])
            places[place][row["sample"]].append(row)
    for place in sorted(places, key=str):
        samples = places[place]
        primaries = {s: rows for s, rows in samples.items() if rows[0]["kind"] == "primary"}
        for name, rows in sorted(samples.items()):
            if rows[0]["kind"] != "duplicate":
                continue
            if not primaries:
                yield _row("duplicate", rows[0], verdict=OPEN, notes="no primary sample beside it")
                continue
            when = _seconds(rows[0]["sampled_at"])
            first = min(
                primaries, key=lambda s: (abs(_seconds(primaries[s][0]["sampled_at"]) - when), s)
            )
            beside = {r["analyte"]: r for r in primaries[first]}
            for row in sorted(rows, key=lambda r: str(r["analyte"])):
                if row["analyte"] in beside and name != first:
                    yield _pair(beside[row["analyte"]], row, largest)


def _pair(primary: Record, duplicate: Record, largest: float) -> dict[str, Any]:
    values = [_value(primary), _value(duplicate)]
    limits = [number(r["limit_ug_per_l"]) or 0.0 for r in (primary, duplicate)]
    found = [v for v in values if v is not None]
    relative = None
    if len(found) == 2:
        difference = abs(found[0] - found[1])
        relative = difference / (sum(found) / 2)
        near = min(found) < NEAR_LIMIT * max(limits)
        fine = difference <= max(limits) if near else 100 * relative <= largest
        notes = "judged by the limit, which is near" if near else ""
    elif found:
        fine = found[0] <= 2 * max(limits)
        notes = "found in one of the two only"
    else:
        fine, notes = True, "found in neither"
    return _row(
        "duplicate",
        duplicate,
        other_sample=primary["sample"],
        other_value_ug_per_l=values[0],
        relative_difference=relative,
        verdict=FINE if fine else DOUBTFUL,
        notes=notes,
    )


def _blanks(results: Sequence[Record], factor: float) -> Iterable[dict[str, Any]]:
    """A row per analyte of each blank, with how many samples of its round a hit touches."""
    for row in results:
        if row["kind"] != "blank":
            continue
        value = _value(row)
        kind = f"{text(row.get('blank_type')) or 'other'} blank"
        if value is None:
            yield _row("blank", row, verdict=FINE, notes=kind)
            continue
        touched = {
            r["sample"]
            for r in results
            if r["kind"] != "blank"
            and (r["round"], r["analyte"]) == (row["round"], row["analyte"])
            and (v := _value(r)) is not None
            and v < factor * value
        }
        notes = f"{kind}; {len(touched)} sample(s) of the round below {factor:g} times this value"
        yield _row("blank", row, verdict=DOUBTFUL, notes=notes)


def _holding(results: Sequence[Record]) -> Iterable[dict[str, Any]]:
    """A row per result whose time of analysis is known."""
    for row in results:
        analysed = text(row.get("analysed_at"))
        if not analysed or not text(row["sampled_at"]):
            continue
        held = (_seconds(analysed) - _seconds(row["sampled_at"])) / DAY_S
        limit = number(row.get("holding_limit_d"))
        verdict = OPEN if limit is None else FINE if 0 <= held <= limit else DOUBTFUL
        notes = "analysed before it was sampled" if held < 0 else ""
        if held < 0:
            verdict = DOUBTFUL
        yield _row(
            "holding time", row, held_d=held, holding_limit_d=limit, verdict=verdict, notes=notes
        )


def _row(check: str, row: Record, **more: Any) -> dict[str, Any]:
    return {
        "check_of": check,
        "sample": row["sample"],
        "interval": text(row["interval"]),
        "round": row["round"],
        "analyte": row["analyte"],
        "value_ug_per_l": _value(row),
        "limit_ug_per_l": number(row["limit_ug_per_l"]),
        **more,
    }


def _value(row: Record) -> float | None:
    return number(row["value_ug_per_l"]) if row["detected"] else None


def _seconds(moment: Any) -> float:
    from datetime import datetime

    return datetime.fromisoformat(str(moment).replace("Z", "+00:00")).timestamp()


def _late(row: Record) -> dict[str, str]:
    limit = row["holding_limit_d"]
    allowed = "" if limit is None else f", {limit:g} allowed"
    return finding(
        "result",
        f"{row['sample']} {row['analyte']}",
        row["notes"] or f"analysed {row['held_d']:.3g} days after sampling{allowed}",
        what_to_do="Take it as a lower bound, or sample again; check the two times.",
    )


PLUGIN = Layer(
    name="sampling_quality",
    summary="duplicates, blanks and holding times",
    reads=("interval", "sample", "result"),
    writes=("sampling_quality",),
    compute=compute,
    settings=(
        Setting(
            "largest_difference",
            30.0,
            "%",
            "Difference of duplicates, relative to their mean, above which a pair is doubtful",
            low=0,
        ),
        Setting(
            "blank_factor",
            5.0,
            "1",
            "Results below this many times the value in a blank of their round are in doubt",
            low=1,
        ),
    ),
)
