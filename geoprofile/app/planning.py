"""The field plan of a borehole, from the site file to sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from geoprofile.errors import UsageError
from geoprofile.store import Store


def plan(
    path: Path,
    borehole: str | None,
    *,
    purpose: str,
    folder: Path,
    overwrite: bool = False,
    packer: str | None = None,
    spacer: str | None = None,
    zone_length_m: float = 2.0,
    overlap: float = 0.2,
    apart_m: float = 0.0,
    advised: Sequence[int] = (),
    advised_borehole: int | None = None,
    pipes: str | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Plan the packer work in a borehole and write its sheets.

    Parameters
    ----------
    path : Path
        Site file.
    borehole : str, optional
        Which; the advised one when left out; the name of a new one with `advised_borehole`.
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
    advised : sequence of int
        Ranks of proposed tests (table next_test): plan these zones of their borehole.
    advised_borehole : int, optional
        Rank of a proposed borehole (table next_borehole): plan that.
    pipes : str, optional
        Lengths of the crew's pipes with their units.

    Returns
    -------
    tuple of files and remarks
        Files written; depths that stay untested, and why; zones of another length to add; what an
        advice wanted elsewhere.
    """
    from geoprofile.drawing.people import shown_in, shown_of, translated
    from geoprofile.products.packer_plan.advised import plan_of_borehole, plan_of_tests
    from geoprofile.products.packer_plan.blanks import asked_of
    from geoprofile.products.packer_plan.compute import make_plan
    from geoprofile.products.packer_plan.figure import write_plan
    from geoprofile.products.packer_plan.pipes import with_pipes
    from geoprofile.products.packer_plan.plan import Choices

    choices = Choices(
        packer=packer, spacer=spacer, zone_length_m=zone_length_m, overlap=overlap, apart_m=apart_m
    )
    choices = with_pipes(choices, pipes)
    site = Store.open(path).read()
    _check_asked(borehole, advised, advised_borehole)
    if advised_borehole is not None:
        made = plan_of_borehole(site, advised_borehole, borehole, purpose=purpose, choices=choices)
    elif advised:
        made = plan_of_tests(site, advised, purpose=purpose, choices=choices)
    else:
        made = make_plan(site, str(borehole), purpose=purpose, choices=choices)
    if borehole is not None and made.borehole != borehole:
        raise UsageError(
            "plan",
            f"advice for {made.borehole}, asked for {borehole}",
            "the same borehole",
            "Leave the name out, or choose another rank.",
        )
    made = replace(made, asked=asked_of(site))
    reasons = (*made.reasons, *[""] * len(made.untested_m))
    untested = tuple(
        f"{top:.1f} to {bottom:.1f} m stays untested" + (f": {why}" if why else "")
        for (top, bottom), why in zip(made.untested_m, reasons, strict=False)
    )
    place = () if made.new_hole is None else (made.new_hole.words,)
    with shown_in(shown_of(site)):
        written = write_plan(made, folder, overwrite=overwrite)
    [tables] = {p.parent for p in written if p.name == "intervals.csv"}
    last = f"when numbers are filled in: geoprofile load {path} {tables}"
    said = (*place, *made.moved, *untested, *made.long_zones)
    days = f"{made.days_words} of work: {'; '.join(made.assumptions)}"
    with shown_in(shown_of(site)):
        return written, (*map(translated, said), days, last)


def _check_asked(borehole: str | None, tests: Sequence[int], hole: int | None) -> None:
    if tests and hole is not None:
        raise UsageError(
            "plan", "advised tests and an advised borehole", "one of them", "Leave one out."
        )
    if borehole is None and not tests and hole is None:
        raise UsageError(
            "plan",
            "no borehole",
            "the name of one, or --advised RANK, or --advised-borehole RANK",
            "Name what to plan.",
        )
