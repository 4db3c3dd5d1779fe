"""Times and dates as files write them, to UTC; nothing is guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta, timezone
from typing import TypeVar
from zoneinfo import ZoneInfo

from geoprofile.errors import Problem
from geoprofile.intake.cells import Cells, clean
from geoprofile.intake.problems import shown
from geoprofile.intake.sources import SiteSettings

T = TypeVar("T")
ISO_TIME = re.compile(
    r"\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}([.,]\d{1,9})?)?\s?(Z|[+-]\d{2}:?\d{2})?)?",
    re.ASCII | re.IGNORECASE,
)
DAY_NUMBER = re.compile(r"\d{5}(\.\d+)?", re.ASCII)
EARLIEST, LATEST = 1800, 2200
CORRECT = "Correct the cell."
DECLARE = (
    "Write 2026-03-04 or 2026-03-04T15:30, or declare how the files write it in site.toml: "
    '[intake] date_format = "%d/%m/%Y %H:%M".'
)


def moments(cells: Cells, settings: SiteSettings, problems: list[Problem]) -> list[datetime | None]:
    """Times with their offset from UTC; without one, that of the site's time zone then.

    An empty cell is None, and so is a cell that is told as a problem: no time, outside 1800 to
    2200, or a local time that the change of clocks makes double or skips.
    """
    zone = ZoneInfo(settings.time_zone)
    known: dict[str, datetime | tuple[str, str, str] | None] = {
        t: _moment(clean(t), zone, settings) for t in set(cells.texts)
    }
    return _told([known[t] for t in cells.texts], cells, problems)


def dates(cells: Cells, settings: SiteSettings, problems: list[Problem]) -> list[date | None]:
    """Days; an empty cell is None, and so is a cell that is told as a problem."""
    known: dict[str, date | tuple[str, str, str] | None] = {
        t: _day(clean(t), settings) for t in set(cells.texts)
    }
    return _told([known[t] for t in cells.texts], cells, problems)


def _told(
    values: Sequence[T | tuple[str, str, str] | None], cells: Cells, problems: list[Problem]
) -> list[T | None]:
    why = {i: v for i, v in enumerate(values) if isinstance(v, tuple)}
    cells.tell(problems, list(why), lambda i: why[i])
    return [None if isinstance(v, tuple) else v for v in values]


def text_of(time: datetime) -> str:
    """A UTC time as it is stored; a fraction of a second is kept where there is one."""
    plain = time.astimezone(UTC).replace(tzinfo=None)
    return plain.isoformat(timespec="milliseconds" if plain.microsecond else "seconds") + "Z"


def offset_of(time: datetime) -> str:
    """The offset from UTC at which a time was written: `+02:00`."""
    return _offset(time.utcoffset() or timedelta(0))


def _moment(
    text: str, zone: ZoneInfo, settings: SiteSettings
) -> datetime | tuple[str, str, str] | None:
    if not text:
        return None
    time = _parsed(text, ISO_TIME, settings)
    if time is None:
        return _why_not(text, "a time such as 2026-03-04T15:30")
    if not EARLIEST <= time.year <= LATEST:
        return (shown(text), f"a year from {EARLIEST} to {LATEST}", CORRECT)
    if time.tzinfo is not None:
        return time
    return _placed(time, text, zone)


def _placed(time: datetime, text: str, zone: ZoneInfo) -> datetime | tuple[str, str, str]:
    """A local time with its offset, unless the change of clocks makes it double or skips it."""
    first, second = time.replace(tzinfo=zone, fold=0), time.replace(tzinfo=zone, fold=1)
    offsets = first.utcoffset() or timedelta(0), second.utcoffset() or timedelta(0)
    if offsets[0] == offsets[1]:
        return first.replace(tzinfo=timezone(offsets[0]))
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != time:
        found = f"{shown(text)}, which the change of clocks in {zone.key} skips"
    else:
        found = f"{shown(text)}, which comes twice when clocks change in {zone.key}"
    return (
        found,
        "a time that is certain",
        f"Write the offset from UTC with it, such as {text}{_offset(offsets[0])} "
        f"or {text}{_offset(offsets[1])}.",
    )


def _offset(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _day(text: str, settings: SiteSettings) -> date | tuple[str, str, str] | None:
    if not text:
        return None
    time = _parsed(text, ISO_TIME, settings)
    if time is None or (time.hour, time.minute, time.second) != (0, 0, 0):
        return _why_not(text, "a day such as 2026-03-04")
    if not EARLIEST <= time.year <= LATEST:
        return (shown(text), f"a year from {EARLIEST} to {LATEST}", CORRECT)
    return time.date()


def _parsed(text: str, pattern: re.Pattern[str], settings: SiteSettings) -> datetime | None:
    if pattern.fullmatch(text):
        try:
            return datetime.fromisoformat(text.upper().replace(",", ".").replace(" Z", "Z"))
        except ValueError:
            return None
    for form in settings.date_format:
        try:
            return datetime.strptime(text, form)
        except ValueError:
            continue
    return None


def _why_not(text: str, expected: str) -> tuple[str, str, str]:
    if DAY_NUMBER.fullmatch(text):
        return (
            f"{shown(text)}, a day number of a spreadsheet",
            expected,
            "Format the column as a date in the spreadsheet and save it again.",
        )
    return (shown(text), expected, DECLARE)
