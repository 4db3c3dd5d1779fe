"""Layer: open parts of each borehole less the zones in it."""

from geoprofile.engine.rows import finding, frame
from geoprofile.plugins import Layer, Setting
from geoprofile.site import records_of

OPEN = ("open hole", "screen")


def gaps(open_parts, zones, least_m):
    """Lengths [m] of the parts of (top, bottom) ranges that no zone covers, from `least_m` on."""
    found = []
    for top, bottom in open_parts:
        at = top
        for start, end in [*sorted(zones), (bottom, bottom)]:
            length = min(start, bottom) - at
            if length > 0 and length >= least_m:
                found.append(length)
            at = max(at, min(end, bottom))
    return found


def compute(site, settings, progress):
    """One row for each borehole that has an open part."""
    construction = records_of(site.table("construction"))
    intervals = records_of(site.table("interval"))
    rows, findings = [], []
    for hole in records_of(site.table("borehole")):
        name = hole["borehole"]
        parts = [
            (c["top_m"], c["bottom_m"])
            for c in construction
            if c["borehole"] == name and c["kind"] in OPEN
        ]
        zones = [(i["top_m"], i["bottom_m"]) for i in intervals if i["borehole"] == name]
        left = gaps(parts, zones, settings["least_gap_m"])
        if parts:
            row = {"borehole": name, "geometry": hole["geometry"], "untested_m": sum(left)}
            row |= {"open_m": sum(b - t for t, b in parts), "gap_count": len(left)}
            rows.append(row)
        if parts and not zones:
            what = "no zone in an open borehole"
            findings.append(finding("borehole", name, what, what_to_do="Test it."))
    progress(1, 1)
    made = {"untested_length": frame("untested_length", rows, site.crs)}
    return made | {"finding": frame("finding", findings, site.crs)}


PLUGIN = Layer(
    name="untested_length",
    summary="Length of each borehole that no zone has covered",
    reads=("borehole", "construction", "interval"),
    writes=("untested_length",),
    compute=compute,
    settings=(Setting("least_gap_m", 0.5, "m", "Shorter gaps do not count", low=0.0),),
)
