"""The field plan of a borehole, from the site file to sheets."""

from __future__ import annotations

from pathlib import Path

from geoprofile.store import Store


def plan(
    path: Path,
    borehole: str,
    *,
    purpose: str,
    folder: Path,
    overwrite: bool = False,
    packer: str | None = None,
    spacer: str | None = None,
    zone_length_m: float = 2.0,
    overlap: float = 0.2,
    apart_m: float = 0.0,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Plan the packer work in a borehole and write its sheets.

    Parameters
    ----------
    path : Path
        Site file.
    borehole : str
        Which.
    purpose : str
        hydraulic, chemistry or both.
    folder : Path
        Where the sheets go.
    overwrite : bool
        Replace files that are there.
    packer, spacer : str, optional
        Equipment by name.
    zone_length_m, overlap, apart_m : float [m], [-], [m]
        Layout of the zones.

    Returns
    -------
    tuple of files and remarks
        Files written; depths that stay untested, and why; zones of another length to add.
    """
    from geoprofile.products.packer_plan.compute import make_plan
    from geoprofile.products.packer_plan.figure import write_plan
    from geoprofile.products.packer_plan.plan import Choices

    choices = Choices(
        packer=packer, spacer=spacer, zone_length_m=zone_length_m, overlap=overlap, apart_m=apart_m
    )
    made = make_plan(Store.open(path).read(), borehole, purpose=purpose, choices=choices)
    reasons = (*made.reasons, *[""] * len(made.untested_m))
    untested = tuple(
        f"{top:.1f} to {bottom:.1f} m stays untested" + (f": {why}" if why else "")
        for (top, bottom), why in zip(made.untested_m, reasons, strict=False)
    )
    return write_plan(made, folder, overwrite=overwrite), (*untested, *made.long_zones)
