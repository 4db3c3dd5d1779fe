"""What a site lacks, and what the next table of it would add."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from geoprofile.site import Site

MOST = 3  # told at once
MAP_FROM = 3  # [-] boreholes; fewer make no map


def next_tables(site: Site) -> tuple[str, ...]:
    """The tables that would add most, each with what it would add; the first step first."""
    return tuple(words for has, words in WANTED if not has(site))[:MOST]


def too_few_for_a_map(site: Site) -> bool:
    """Whether profiles along the holes say more than a map."""
    return len(site.boreholes) < MAP_FROM


def _any(*tables: str) -> Callable[[Site], bool]:
    return lambda site: any(len(site.table(name)) for name in tables)


def _can_be_analysed(site: Site) -> bool:
    """Whether holes with tests have a construction; without one no test has a radius."""
    tested = site.intervals[site.intervals["interval"].isin(site.tests["interval"])]
    return bool(tested["borehole"].isin(site.table("construction")["borehole"]).all())


def _has_criteria(site: Site) -> bool:
    return site.concentration.empty or len(site.table("criterion")) > 0


def _has_map(site: Site) -> bool:
    return not too_few_for_a_map(site)


WANTED: tuple[tuple[Callable[[Site], bool], str], ...] = (
    (_any("interval"), "intervals.csv: where in the holes tests and samples belong"),
    (
        _can_be_analysed,
        "construction.csv for every tested hole: the diameters without which no test gives K",
    ),
    (
        lambda site: _any("reading", "pressure_step")(site) or site.tests.empty,
        "readings/TEST.csv or pressure_steps.csv: K of the tests that are listed",
    ),
    (_any("test"), "tests.csv with readings/TEST.csv: K along each hole"),
    (_any("result"), "samples.csv and results.csv: concentrations along each hole"),
    (
        _has_criteria,
        "criteria.csv with your own comparison values: extent, volume and what to test next",
    ),
    (_has_map, "a third borehole in boreholes.csv: fields between the holes, and a map"),
    (_any("head"), "water_levels.csv of three holes: heads, and the direction of flow"),
    (
        lambda site: _any("packer")(site) and _any("spacer")(site),
        "packers.csv and spacers.csv: field plans, and proposals that your equipment can do",
    ),
)
