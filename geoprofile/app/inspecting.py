"""A look at an unknown file: the profile proposed, and how it would read the first rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from geoprofile import intake
from geoprofile.errors import DataError, UsageError
from geoprofile.whole import write_text

ENOUGH = 5  # problems shown


@dataclass(frozen=True)
class Seen:
    """The profile as text, the first rows as read by it, what is wrong still, and what to do."""

    table: str
    text: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    problems: tuple[str, ...]
    advice: tuple[str, ...]


def inspect_file(
    file: Path,
    *,
    table: str = "",
    sheet: str = "",
    rows: int = 5,
    gallon: str = "",
    write: Path | None = None,
    overwrite: bool = False,
) -> Seen:
    """Look at an unknown file and propose an intake profile.

    Parameters
    ----------
    file : Path
        Text file or workbook.
    table, sheet : str
        The table it fills and the sheet, if known.
    rows : int
        Rows to show.
    gallon : str
        "US" or "imperial", if the file has gallons.
    write : Path, optional
        Profile file to make.
    overwrite : bool
        Replace it if it is there.

    Returns
    -------
    Seen
        Proposal and preview.

    Raises
    ------
    DataError
        Nothing in it looks like a table.
    UsageError
        No table of that name, or the profile file is there already.
    """
    from geoprofile.intake.files import sheet_names
    from geoprofile.intake.looking import look_at
    from geoprofile.intake.names import plural, table_of
    from geoprofile.intake.profile_text import as_toml
    from geoprofile.intake.proposing import is_plain, propose

    known = table_of(table) if table else ""
    if known is None:
        raise UsageError(table, "no such table", "a name such as results", "Check --table.")
    if write is not None and write.exists() and not overwrite:
        raise UsageError(
            str(write), "a file that is there", "a new file", "Choose another, or add --overwrite."
        )
    home, settings = _home(file)
    name = _name(file, home)
    look = look_at(file, name, settings, table=known, sheet=sheet)
    if not look.heads:
        raise DataError(
            name,
            "no row that looks like a header of one of our tables",
            "names over the columns, such as well, depth, sample, result",
            "Say which table it fills with --table; if it has no header, write a profile with "
            'header_row = 0 and columns by number: "#1" = "measured_at".',
        )
    proposal = propose(look, gallon)
    frame, problems = _read(look, proposal.profile, settings)
    named = replace(proposal.profile, table=plural(look.table))
    text = as_toml(named, proposal.questions)
    if is_plain(look, proposal) and not problems:
        text = f"# {name} is read as it is, as {plural(look.table)}; no profile is needed.\n" + text
    advice = ["Put it into site.toml as [[intake.profile]], or keep it in a file: --write."]
    if write is not None:
        write_text(write, text)
        advice = [f'Wrote {write}; name it in site.toml: [intake] profiles = ["{write.name}"].']
    if look.source.sheet and not sheet:
        others = ", ".join(n for n in sheet_names(file) if n != look.source.sheet)
        advice += [f"This is the sheet {look.source.sheet}; look at others with --sheet: {others}."]
    columns, shown = _preview(frame, rows)
    told = tuple(str(p) for p in problems[:ENOUGH])
    return Seen(plural(look.table), text, columns, shown, told, tuple(advice))


def _home(file: Path) -> tuple[Path, intake.SiteSettings]:
    """The site folder in which a file lies, and what its site.toml says."""
    for folder in list(file.resolve().parents)[:4]:
        if (folder / "site.toml").is_file():
            return folder, intake.read_settings(folder)
    return file.resolve().parent, intake.SiteSettings(crs="")


def _name(file: Path, home: Path) -> str:
    try:
        return file.resolve().relative_to(home).as_posix()
    except ValueError:
        return file.name


def _read(look: Any, profile: Any, settings: Any) -> tuple[Any, list[Any]]:
    from geoprofile.intake.source_files import read_file

    problems: list[Any] = []
    frame = read_file(replace(look.source, profile=profile), settings, problems)
    return frame, problems


def _preview(frame: Any, rows: int) -> tuple[tuple[str, ...], tuple[tuple[Any, ...], ...]]:
    """The first rows of the columns that hold something."""
    part = frame.head(rows).dropna(axis=1, how="all").drop(columns="source_file", errors="ignore")
    names = [str(c) for c in part.columns]
    made = [
        tuple(None if v != v else v for v in row) for row in part.itertuples(index=False, name=None)
    ]
    order = sorted(range(len(names)), key=lambda i: names[i] != "source_row")
    return tuple(names[i] for i in order), tuple(tuple(r[i] for i in order) for r in made)
