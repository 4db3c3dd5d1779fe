"""What a refused file needs: the keys of a profile by which it would be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from geoprofile.errors import GeoprofileError, Problem
from geoprofile.intake.looking import Look, look_at
from geoprofile.intake.problems import shown
from geoprofile.intake.profile_text import toml_of
from geoprofile.intake.profiles import Profile
from geoprofile.intake.proposing import propose
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.text import COMMENT

MOST_BYTES = 20_000_000  # larger files are refused without a second look
MOST_COLUMNS = 6  # named one by one
NOT_SAID = ("files", "table", "sheet", "contains", "name")


def with_keys(faults: list[Problem], file: SourceFile, settings: SiteSettings) -> list[Problem]:
    """The faults of a file, the first with the keys that would repair it.

    Where the header stands in another row than the first, the faults that come of it are left out.
    """
    if not faults or file.size > MOST_BYTES:
        return faults
    name = file.name.partition("#")[0]
    try:
        look = look_at(file.path, name, settings, table=file.table, sheet=file.sheet)
        if not look.heads:
            return faults
        proposal = propose(look, settings.gallon)
    except (GeoprofileError, UnicodeError, LookupError):
        return faults
    keys = _keys(proposal.profile, settings)
    if not keys:
        return faults
    advice = (
        f"In its [[intake.profile]] in site.toml say {keys} ('geoprofile inspect {name}' proposes "
        "the profile)."
    )
    read = (x for x in look.lines if not x.is_empty and not x.cells[0].startswith(COMMENT))
    first = next((x.number for x in read), 0)
    if first and look.heads[0] != first:  # nothing but comments has no row to be named
        return [_header_elsewhere(look, first, file, advice)]
    fault = faults[0]
    return [replace(fault, advice=f"{fault.advice} {advice}"), *faults[1:]]


def _header_elsewhere(look: Look, first: int, file: SourceFile, advice: str) -> Problem:
    cells = next(x.cells for x in look.lines if x.number == first)
    title = next((c for c in cells if c.strip()), "")
    return Problem(
        f"{file.name} row {first}",
        f"{shown(title)} where the header should be",
        f"the names of the columns in the first row; row {look.heads[0]} looks like them",
        advice,
    )


def _keys(profile: Profile, settings: SiteSettings) -> str:
    """The keys in which a profile differs from how the site says its files are written."""
    plain = Profile(files=(), table="")
    told = []
    for key in Profile.__dataclass_fields__:
        value = getattr(profile, key)
        same = value == getattr(plain, key) or value == getattr(settings, key, None)
        if key in NOT_SAID or same or not value:
            continue
        if isinstance(value, Mapping):
            pairs = [f"{toml_of(k)} = {toml_of(v)}" for k, v in value.items()]
            more = ", ..." if len(pairs) > MOST_COLUMNS else ""
            told.append(f"{key} = {{ {', '.join(pairs[:MOST_COLUMNS])}{more} }}")
        else:
            told.append(f"{key} = {toml_of(list(value) if isinstance(value, tuple) else value)}")
    return ", ".join(told)
