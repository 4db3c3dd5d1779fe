"""K of each test by every method that applies, and one K per interval."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd
import shapely

from geoprofile import hydraulics
from geoprofile.engine.rows import finding, frame, joined
from geoprofile.errors import DataError
from geoprofile.hydraulics.hole import HoleProfile
from geoprofile.hydraulics.tests import Conductivity, HydraulicTest, Part, TestAnalysis
from geoprofile.plugins import Layer, Method, Progress
from geoprofile.plugins.registry import installed, plugins
from geoprofile.products.boreholes.inputs import interval_lines, paths_of
from geoprofile.products.conductivity.curves import curve_rows
from geoprofile.products.conductivity.hole_profile import better, cell_rows, profiles_of
from geoprofile.products.conductivity.inputs import hydraulic_tests
from geoprofile.products.conductivity.test_rows import (
    budget_rows,
    lugeon_columns,
    reasons,
    step_rows,
    unread_outside,
)
from geoprofile.remembered import Content, of_records, remembered
from geoprofile.site import Site, records_of
from geoprofile.workers import each

Place = Mapping[str, Any]


def _whole(answer: TestAnalysis | DataError) -> Content | None:
    """An analysis to remember; why there is none is found out anew."""
    return None if isinstance(answer, DataError) else RECORDS.write(answer)


RECORDS = of_records("analysis", (TestAnalysis, Conductivity, Part), "hydraulics")
FORM = replace(RECORDS, write=_whole)


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Analyse every test in use, then bring the repeats of each interval together.

    Returns
    -------
    Mapping
        Tables `conductivity` and `interval_conductivity` [m/s], `lugeon` [Lu],
        `conductivity_budget` and `test_curve`; a finding per test that was
        rejected or could not be analysed.
    """
    analyses: dict[str, list[TestAnalysis]] = defaultdict(list)
    of_test: dict[str, HydraulicTest] = {}
    findings: list[dict[str, str]] = []
    prepared = list(_prepared(site, findings))
    for done, (test, answer) in enumerate(zip(prepared, _answers(prepared), strict=True), start=1):
        if isinstance(answer, DataError):
            findings.append(_unusable(test.test, answer))
        else:
            analyses[test.interval].append(answer)
            of_test[test.test] = test
            findings += _rejection(answer)
        progress(done, len(prepared))
    findings += unread_outside(prepared)
    for name in analyses:
        analyses[name] = list(hydraulics.one_family(analyses[name]))
    places = _places(site)
    steps = [
        row
        for n in analyses
        for a in analyses[n]
        for row in step_rows(places[n], of_test[a.test], a)
    ]
    budget = [r for n in analyses for a in analyses[n] for r in budget_rows(places[n], a)]
    curves = [r for n in analyses for a in analyses[n] for r in curve_rows(places[n], a)]
    rows = [r for n in analyses for a in analyses[n] for r in _test_rows(places[n], a)]
    profiles = profiles_of(places, analyses, of_test)
    values = [_interval_row(places[n], analyses[n], profiles) for n in analyses]
    paths = paths_of(site)
    cells = [r for h, (names, p) in profiles.items() for r in cell_rows(h, names, p, paths[h])]
    lines = interval_lines(site)
    for row in (*rows, *values, *steps):
        row["geometry"] = shapely.LineString(lines[row["interval"]])
    return {
        "conductivity": frame("conductivity", rows, site.crs),
        "interval_conductivity": frame("interval_conductivity", values, site.crs),
        "k_profile": frame("k_profile", cells, site.crs),
        "lugeon": frame("lugeon", steps, site.crs),
        "conductivity_budget": frame("conductivity_budget", budget, site.crs),
        "test_curve": frame("test_curve", curves, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _answers(prepared: Sequence[HydraulicTest]) -> Iterator[TestAnalysis | DataError]:
    """What each test says, by workers or one after the other.

    Threads would wait for each other: a test is ten thousand short steps, each of which holds the
    interpreter, so that two of them took a fifth more time than one.
    """
    methods = tuple(sorted(method.name for method in plugins("methods").values()))
    yield from each(analysed, methods, prepared)


def analysed(names: Sequence[str], test: HydraulicTest) -> TestAnalysis | DataError:
    """All that one test says, or why it says nothing.

    Parameters
    ----------
    names : sequence of str
        Of the methods there are.
    test : HydraulicTest
        With its readings.

    Returns
    -------
    TestAnalysis or DataError
        As remembered, else as analysed now.
    """
    methods: Mapping[str, Method] = plugins("methods")

    def whole() -> TestAnalysis | DataError:
        try:
            return hydraulics.analyse(test, tuple(methods.values()))
        except DataError as error:
            return error

    found: TestAnalysis | DataError = remembered((installed(), list(names), test), whole, FORM)
    return found


def _prepared(site: Site, findings: list[dict[str, str]]) -> Iterator[HydraulicTest]:
    """The tests in use, one by one; one that cannot be put together becomes a finding."""
    for name, test in hydraulic_tests(site):
        if isinstance(test, DataError):
            findings.append(_unusable(name, test))
        else:
            yield test


def _unusable(name: str, error: DataError) -> dict[str, str]:
    problem = error.problem
    return finding(
        "test",
        name,
        f"not analysed: {problem.where}: found {problem.found}, expected {problem.expected}",
        what_to_do=problem.advice,
        severity="serious",
    )


def _rejection(analysis: TestAnalysis) -> list[dict[str, str]]:
    if analysis.grade != "rejected":
        return []
    return [
        finding(
            "test",
            analysis.test,
            f"rejected: {joined(analysis.notes) or 'no method applies'}",
            what_to_do="Repeat the test, or correct what the reason names; it is not mapped.",
        )
    ]


def _places(site: Site) -> dict[str, Place]:
    """The columns that every row about an interval begins with."""
    columns = ["interval", "borehole", "top_m", "bottom_m"]
    return {row["interval"]: row for row in records_of(site.intervals[columns])}


def _test_rows(place: Place, analysis: TestAnalysis) -> list[dict[str, Any]]:
    if not analysis.results:
        reasons = [f"{name}: {reason}" for name, reason in analysis.not_applicable]
        return [
            {
                **place,
                "test": analysis.test,
                "grade": "rejected",
                "preferred": False,
                "chosen_by": "user" if analysis.by_user else "program",
                "notes": joined([*analysis.notes, *reasons]),
            }
        ]
    return [
        {**place, **_result_row(analysis, index, result)}
        for index, result in enumerate(analysis.results)
    ]


def _result_row(analysis: TestAnalysis, index: int, result: Conductivity) -> dict[str, Any]:
    preferred = index == analysis.preferred
    window = result.window or (None, None)
    return {
        "test": analysis.test,
        "method": result.method,
        "k_m_per_s": result.k_m_per_s,
        "k_as_fitted_m_per_s": result.k_as_fitted_m_per_s,
        "k_low_m_per_s": result.k_low_m_per_s,
        "k_high_m_per_s": result.k_high_m_per_s,
        "sd_log10_k": result.sd_log10_k,
        "specific_storage_per_m": result.specific_storage_per_m,
        "start_s": result.start_s,
        "initial_displacement_m": result.initial_displacement_m,
        "window_high": window[0],
        "window_low": window[1],
        "readings_used": result.readings_used,
        "grade": analysis.grade if preferred else result.grade,
        "preferred": preferred,
        "chosen_by": "user" if analysis.by_user else "program",
        **(reasons(analysis) | lugeon_columns(analysis) if preferred else {}),
        "notes": joined([*(analysis.notes if preferred else ()), *result.notes]),
    }


def _interval_row(
    place: Place,
    analyses: Sequence[TestAnalysis],
    profiles: Mapping[str, tuple[list[str], HoleProfile]],
) -> dict[str, Any]:
    """K of an interval, or an empty rejected row that says why there is none."""
    if all(a.best is None for a in analyses):
        notes = joined(n for a in analyses for n in a.notes)
        return {**place, "tests": 0, "grade": "rejected", "notes": notes or "no method applies"}
    value = hydraulics.interval_value(analyses)
    if str(place["borehole"]) in profiles:
        names, profile = profiles[str(place["borehole"])]
        value = better(value, str(place["interval"]), names, profile)
    return {
        **place,
        "k_m_per_s": value.k_m_per_s,
        "k_low_m_per_s": value.k_low_m_per_s,
        "k_high_m_per_s": value.k_high_m_per_s,
        "sd_log10_k": value.sd_log10_k,
        "transmissivity_m2_per_s": value.k_m_per_s * (place["bottom_m"] - place["top_m"]),
        "tests": len(value.tests),
        "grade": value.grade,
        "notes": joined(value.notes),
    }


PLUGIN = Layer(
    name="conductivity",
    summary="K of each test by every method that applies, and one K per interval",
    reads=(
        "borehole",
        "survey",
        "construction",
        "packer",
        "interval",
        "test",
        "reading",
        "pressure_step",
        "step_flow",
        "pipe_loss",
    ),
    writes=(
        "conductivity",
        "interval_conductivity",
        "lugeon",
        "conductivity_budget",
        "test_curve",
        "k_profile",
    ),
    compute=compute,
)
