"""The project for the desktop GIS, inside the site file and beside it."""

from __future__ import annotations

from pathlib import Path

from geoprofile.app.outcome import Outcome
from geoprofile.errors import GeoprofileError

REWRITE = "'geoprofile project SITE --overwrite' writes it anew and keeps yours under another name"


def compose(path: Path, *, overwrite: bool = False) -> Outcome:
    """Write the project of a site file, as a command of its own.

    Parameters
    ----------
    path : Path
        Site file.
    overwrite : bool
        Write over one that was changed in the GIS; it is kept under another name.

    Returns
    -------
    Outcome
        The file beside the site file, and in words what was written.

    Raises
    ------
    UsageError
        A project was changed in the GIS, and is not to be written over.
    """
    from geoprofile.gisproject import keep_project
    from geoprofile.gisproject.keeping import refuse_left
    from geoprofile.store import Store

    store = Store.open(path)
    kept = keep_project(path, overwrite=overwrite)
    if not kept.written:
        refuse_left(kept)
    remarks = tuple(f"{name} was changed in the GIS and stays; {REWRITE}" for name in kept.left)
    return Outcome(
        path,
        {},
        files=(kept.file,),
        summary=kept.written,
        remarks=(*store.remarks, *remarks),
        unchanged=not kept.written,
    )


def keep_composed(path: Path) -> tuple[str, ...]:
    """Bring the project up to date after a run; remarks where it was left as it is."""
    from geoprofile.gisproject import keep_project

    try:
        kept = keep_project(path)
    except GeoprofileError as error:  # the layers are stored: a project can be written later
        return (f"the project for the GIS was not written: {error.problem}",)
    return tuple(f"{name} was changed in the GIS and stays; {REWRITE}" for name in kept.left)
