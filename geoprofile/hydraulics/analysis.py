"""One test, every method that applies, one preferred; and one K per interval from repeats."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.leak import Leak, leak_of
from geoprofile.hydraulics.posterior import average
from geoprofile.hydraulics.quality import judge_balance, worst
from geoprofile.hydraulics.spread import Z95
from geoprofile.hydraulics.step_leak import step_leak
from geoprofile.hydraulics.tests import (
    GRADES,
    Array,
    Conductivity,
    Grade,
    HydraulicTest,
    IntervalValue,
    TestAnalysis,
)
from geoprofile.hydraulics.validity import check_test
from geoprofile.plugins import Method

# what a method that sees more must not lose to one that is blind to a fault of the readings
LOSS: dict[Grade, float] = {"accepted": 0.0, "qualified": 0.1, "rejected": 0.5}
OSCILLATION = "underdamped"
SOON = 3  # readings since the start, of which one tells the level outside at rest
REPEAT_SD_LN = 0.05  # [-] least spread between repeats; common practice, no source


def analyse(test: HydraulicTest, methods: Iterable[Method]) -> TestAnalysis:
    """Run every method that fits the test and prefer one; a user's choice is honoured.

    Parameters
    ----------
    test : HydraulicTest [-]
        As recorded, in SI units.
    methods : iterable of Method [-]
        The methods there are.

    Returns
    -------
    TestAnalysis [-]
        K [m/s] of every method, the preferred one, and the reason for each that was not used.

    Raises
    ------
    DataError
        The test itself is wrong (all faults at once), or the user's method is not there.
    """
    check_test(test)
    known = tuple(methods)
    _check_choice(test, known)
    results: list[Conductivity] = []
    scores: list[float] = []
    reasons: list[str] = []
    refused: list[tuple[str, str]] = []
    for method in known:
        fit = method.applies(test)
        insisted = method.name == test.chosen_method and test.kind in method.kinds
        if not (fit.applies or insisted):
            refused.append((method.name, fit.reason))
            continue
        try:
            result = method.run(test)
        except DataError as fault:
            refused.append((method.name, f"found {fault.problem.found}"))
            continue
        results.append(result)
        scores.append(fit.score)
        reasons.append(fit.reason)
    return _summary(test, results, scores, reasons, refused)


def _leak(test: HydraulicTest, best: Conductivity) -> Leak:
    """The leak that readings outside the zone show, or the chance of one."""
    if test.kind == "constant head":
        return step_leak(test)
    same = test.outside_displacement_m
    if test.kind == "pressure pulse" or same is None or best.start_s is None:
        return leak_of(test, best.time_s, best.measured, None)
    sign = 1.0 if (best.initial_displacement_m or 1.0) > 0 else -1.0
    order = np.argsort(test.elapsed_s, kind="stable")
    size = abs(best.initial_displacement_m or 1.0)
    times = test.elapsed_s[order]
    rest = _level_at_rest(times, same[order], best.start_s)
    if rest is None:
        return leak_of(test, best.time_s, best.measured, None)
    ring = np.interp(best.time_s + best.start_s, times, sign * (same[order] - rest))
    return leak_of(test, best.time_s, best.measured * size, ring)


def _level_at_rest(times: Array, outside: Array, start_s: float) -> float | None:
    """Reading outside [m] before the water moved, else the first since: an offset is no rise.

    None where the first comes too late to know what stood there before a leak.
    """
    known = np.isfinite(outside)
    before = known & (times < start_s)
    if before.any():
        return float(outside[before].mean())
    since = np.flatnonzero(times >= start_s)[:SOON]
    soon = outside[since][known[since]]
    return float(soon[0]) if soon.size else None


def _check_choice(test: HydraulicTest, known: Sequence[Method]) -> None:
    """A fixed choice must be a method there is."""
    names = [method.name for method in known]
    if test.chosen_method is not None and test.chosen_method not in names:
        raise DataError(
            test.where,
            f"chosen method '{test.chosen_method}'",
            f"one of {', '.join(names)}",
            "Correct the chosen method.",
        )


def _summary(
    test: HydraulicTest,
    results: list[Conductivity],
    scores: list[float],
    reasons: list[str],
    refused: list[tuple[str, str]],
) -> TestAnalysis:
    """Choose the preferred result and say what the user had fixed."""
    notes = []
    if test.chosen_method is not None:
        notes.append(f"method fixed by the user: {test.chosen_method}")
    if test.chosen_window is not None:
        upper, lower = test.chosen_window
        notes.append(f"window fixed by the user: {upper:g} to {lower:g} of H0")
    if test.chosen_start_s is not None:
        notes.append(f"start fixed by the user: {test.chosen_start_s:g} s")
    by_user = bool(notes)
    preferred = _preferred(test, results, scores)
    if preferred is None:
        notes.append("no K could be found from this test")
        return TestAnalysis(
            test.test,
            test.interval,
            tuple(results),
            None,
            tuple(refused),
            "rejected",
            tuple(notes),
            by_user,
        )
    worth = [score - LOSS[r.grade] for score, r in zip(scores, results, strict=True)]
    leak = _leak(test, results[preferred])
    results = list(average(test, results, worth, preferred, leak))
    notes += _spread_of_methods(results, preferred)
    judged = judge_balance(leak)
    best = results[preferred]
    results[preferred] = best = replace(best, grade=worst(best.grade, judged.grade))
    notes += judged.notes
    return TestAnalysis(
        test.test,
        test.interval,
        tuple(results),
        preferred,
        tuple(refused),
        best.grade,
        (*notes, *best.notes),
        by_user,
        _why(test, results, scores, preferred, reasons),
    )


def _why(
    test: HydraulicTest,
    results: Sequence[Conductivity],
    scores: Sequence[float],
    preferred: int,
    reasons: Sequence[str],
) -> str:
    """Why the preferred method won, and what the others had against them."""
    if test.chosen_method is not None:
        return "fixed by the user"
    others = [
        f"{r.method} {s:.2f}{'' if r.grade == 'accepted' else f', {r.grade}'}"
        for i, (r, s) in enumerate(zip(results, scores, strict=True))
        if i != preferred
    ]
    beside = f"; beside it {'; '.join(others)}" if others else ""
    return f"{reasons[preferred]} (fits by {scores[preferred]:.2f} of 1{beside})"


def one_family(analyses: Sequence[TestAnalysis]) -> tuple[TestAnalysis, ...]:
    """The tests of one zone by one family of methods: underdamped or recovery, as most are.

    Parameters
    ----------
    analyses : sequence of TestAnalysis [-]
        All tests of one interval.

    Returns
    -------
    tuple of TestAnalysis [-]
        A test that alone went the other way takes its result of the zone's family where it has one;
        a user's choice stays.
    """
    oscillations = [a.best is not None and a.best.method == OSCILLATION for a in analyses]
    slugs = [a for a in analyses if a.best is not None]
    if not any(oscillations) or len(slugs) < 3 or 2 * sum(oscillations) == len(slugs):
        return tuple(analyses)
    wanted = 2 * sum(oscillations) > len(slugs)
    return tuple(_turned(a, wanted) for a in analyses)


def _turned(analysis: TestAnalysis, oscillation: bool) -> TestAnalysis:
    """The same test with a result of the wanted family."""
    best = analysis.best
    if best is None or analysis.by_user or (best.method == OSCILLATION) == oscillation:
        return analysis
    order = [i for i, r in enumerate(analysis.results) if (r.method == OSCILLATION) == oscillation]
    if not order:
        return analysis
    index = min(order, key=lambda i: GRADES.index(analysis.results[i].grade))
    kind = "underdamped" if oscillation else "recoveries"
    words = f"the other tests of the zone are {kind}: so is this one taken"
    result = analysis.results[index]
    return replace(
        analysis,
        preferred=index,
        grade=result.grade,
        notes=(words, *result.notes),
        reason=words,
    )


def _preferred(test: HydraulicTest, results: list[Conductivity], scores: list[float]) -> int | None:
    """The user's method, else the best grade weighed against the best score."""
    if test.chosen_method is not None:
        names = [result.method for result in results]
        return names.index(test.chosen_method) if test.chosen_method in names else None
    if not results:
        return None
    worth = [score - LOSS[result.grade] for score, result in zip(scores, results, strict=True)]
    return worth.index(max(worth))


def _spread_of_methods(results: list[Conductivity], preferred: int) -> list[str]:
    """Say so when another method that applies lies outside the 95 % of the preferred one."""
    best = results[preferred]
    far = [
        f"{r.method} gives {r.k_m_per_s:.2e} m/s"
        for r in results
        if r is not best and not best.k_low_m_per_s <= r.k_m_per_s <= best.k_high_m_per_s
    ]
    return [f"outside the 95 % of the preferred K: {'; '.join(far)}"] if far else []


def interval_value(analyses: Sequence[TestAnalysis]) -> IntervalValue:
    """One K for an interval: the geometric mean of its accepted repeats.

    Parameters
    ----------
    analyses : sequence of TestAnalysis [-]
        All tests of one interval.

    Returns
    -------
    IntervalValue [-]
        K [m/s], spread, grade and notes. Qualified tests are used only when none is accepted,
        rejected ones only when there is nothing else.

    Raises
    ------
    DataError
        No test gave a K, or the tests belong to several intervals.

    Notes
    -----
    Geometry and method are shared by the repeats and do not average out: the variance is the
    smallest of the single tests, raised by the scatter of the repeats over their number.
    """
    usable = [a for a in analyses if a.best is not None]
    names = sorted({a.interval for a in analyses})
    if not usable or len(names) != 1:
        raise DataError(
            f"interval {', '.join(names) or '?'}",
            "no test with a K" if len(names) <= 1 else f"tests of {len(names)} intervals",
            "tests of one interval with a K",
            "Check the grades and reasons of its tests.",
        )
    grade = _best_grade(usable)
    chosen = [a for a in usable if a.grade == grade]
    logs = [math.log(a.best.k_m_per_s) for a in chosen if a.best]
    mean = sum(logs) / len(logs)
    sd = _combined_sd(chosen, logs, mean)
    notes = _interval_notes(usable, chosen, logs)
    if len(logs) > 1 and max(logs) - min(logs) > math.log(2.0) and grade == "accepted":
        grade = "qualified"
    shift = _mean_shift(chosen)
    return IntervalValue(
        names[0],
        math.exp(mean),
        math.hypot(sd, shift) / math.log(10.0),
        math.exp(mean + shift - Z95 * sd),
        math.exp(mean + shift + Z95 * sd),
        grade,
        tuple(a.test for a in chosen),
        notes,
    )


def _best_grade(usable: Sequence[TestAnalysis]) -> Grade:
    """The best grade that any test of the interval has."""
    return min((a.grade for a in usable), key=GRADES.index)


def _mean_shift(chosen: Sequence[TestAnalysis]) -> float:
    """Mean ln distance from K to the middle of its bounds: the known bias of the methods."""
    shifts = [
        0.5 * math.log(b.k_low_m_per_s * b.k_high_m_per_s) - math.log(b.k_m_per_s)
        for b in (a.best for a in chosen)
        if b is not None
    ]
    return sum(shifts) / len(shifts)


def _combined_sd(chosen: Sequence[TestAnalysis], logs: Sequence[float], mean: float) -> float:
    """Sd of the mean ln K."""
    widths = [math.log(a.best.k_high_m_per_s / a.best.k_low_m_per_s) for a in chosen if a.best]
    single = min(widths) / (2.0 * Z95)
    if len(logs) == 1:
        return math.hypot(single, REPEAT_SD_LN)
    scatter = math.sqrt(sum((x - mean) ** 2 for x in logs) / (len(logs) - 1))
    return math.hypot(single, max(scatter, REPEAT_SD_LN) / math.sqrt(len(logs)))


def _interval_notes(
    usable: Sequence[TestAnalysis], chosen: Sequence[TestAnalysis], logs: Sequence[float]
) -> tuple[str, ...]:
    """What a reader must know about the value."""
    notes = [f"geometric mean of {len(chosen)} {chosen[0].grade} test(s)"]
    left = [a.test for a in usable if a not in chosen]
    if left:
        notes.append(f"not used: {', '.join(left)}")
    if len(chosen) < 3:
        notes.append("fewer than three repeats: linear behaviour is not shown")
    if len(logs) > 1 and max(logs) - min(logs) > math.log(2.0):
        notes.append(f"repeats differ by a factor of {math.exp(max(logs) - min(logs)):.1f}")
    return tuple(notes)
