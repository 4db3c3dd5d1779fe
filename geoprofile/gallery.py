"""The figures of a run: the map, and each section with its main quantity and K."""

from __future__ import annotations

from pathlib import Path

from geoprofile.plugs import Progress
from geoprofile.site import Site


def draw_run(site: Site, folder: Path, progress: Progress) -> tuple[Path, ...]:
    """Draw the figures that a run leaves in its output folder.

    Parameters
    ----------
    site : Site
        With its derived tables.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    tuple of Path
        Files written.
    """
    from geoprofile import figures

    folder.mkdir(parents=True, exist_ok=True)
    jobs = [
        (str(name), str(quantity))
        for name in site.table("section_trace")["section"]
        for quantity in dict.fromkeys(site.table("field")["quantity"])
    ]
    written: list[Path] = []
    for done, (name, quantity) in enumerate(jobs, start=1):
        stem = folder / f"section_{plain_name(name)}_{plain_name(quantity)}"
        written += figures.section_figure(site, name, quantity, stem)
        progress(done, len(jobs))
    return tuple(written)


def plain_name(text: str) -> str:
    """A name that every file system takes.

    Parameters
    ----------
    text : str
        Any name.

    Returns
    -------
    str
        Letters, digits and underscores.
    """
    kept = "".join(c if c.isascii() and c.isalnum() else "_" for c in text.strip().lower())
    return kept[:60] or "unnamed"
