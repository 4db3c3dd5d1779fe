"""What the closing words, the report and a comparison of runs say of it."""

from geoprofile.engine import settings_used
from geoprofile.plugins import ReportPart
from geoprofile.site import records_of


def summary(site):
    """One sentence."""
    rows = records_of(site.table("untested_length"))
    if not rows:
        return ()
    worst = max(rows, key=lambda row: row["untested_m"])
    return (f"Untested: {worst['untested_m']:.1f} m in {worst['borehole']}, the most of all.",)


def report(site):
    """A table with a row for each borehole."""
    rows = records_of(site.table("untested_length"))
    least = settings_used(site, "untested_length")["least_gap_m"]
    names = ("borehole", "open_m", "untested_m", "gap_count")
    yield ReportPart(
        "untested",
        "Untested <length>",
        (f"Gaps of {least:g} m or more between zones.",) if rows else (),
        ("Borehole", "Open [m]", "Untested [m]", "Gaps"),
        tuple(tuple(row[n] for n in names) for row in rows),
    )


def key_figures(site):
    """The untested length of each borehole."""
    for row in records_of(site.table("untested_length")):
        yield "untested_m", row["borehole"], row["untested_m"]
