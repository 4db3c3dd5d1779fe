"""Readable names of at most ten characters for formats that allow no more."""

from __future__ import annotations

from collections.abc import Iterable

from geoprofile.schema.table import Column

LONGEST = 10  # ESRI Shapefile Technical Description (1998), with the dBASE table; from memory
UNITS = {
    "ug/L": "ug_per_l",
    "m/s": "m_per_s",
    "m2/s": "m2_per_s",
    "1/m": "per_m",
    "1/Pa": "per_pa",
    "g/d": "g_per_day",
    "g/m2/d": "g_per_m2_per_day",
    "L/min": "l_min",
    "degC": "c",
    "kPa": "kpa",
    "L": "l",
    "Lu": "lugeon",
    "ug/L/a": "ug_per_l_year",
}
WORDS = {
    "ground": "gr",
    "elevation": "elev",
    "inclination": "incl",
    "azimuth": "az",
    "measuring": "meas",
    "measured": "meas",
    "point": "pt",
    "height": "ht",
    "diameter": "dia",
    "riser": "ris",
    "outer": "out",
    "inner": "in",
    "outside": "outs",
    "inside": "ins",
    "static": "stat",
    "depth": "dep",
    "displacement": "disp",
    "expected": "exp",
    "initial": "init",
    "temperature": "temp",
    "water": "wat",
    "aquifer": "aqf",
    "thickness": "thick",
    "compressibility": "compr",
    "system": "sys",
    "volume": "vol",
    "predicted": "pred",
    "median": "med",
    "discharge": "dis",
    "criterion": "crit",
    "probability": "prob",
    "transmissivity": "transm",
    "coverage": "cov",
    "length": "len",
    "vertical": "vert",
    "gradient": "grad",
    "interval": "intv",
    "sampled": "smpl",
    "sample": "smpl",
    "concentration": "conc",
    "contribution": "contr",
    "uncertainty": "unc",
    "uncertain": "unc",
    "standard": "std",
    "sensitivity": "sens",
    "pressure": "pres",
    "inflation": "infl",
    "distance": "dist",
    "projection": "proj",
    "exaggeration": "exagg",
    "longitude": "lon",
    "latitude": "lat",
    "specific": "spec",
    "storage": "stor",
    "boundary": "bound",
    "normalised": "norm",
    "fitted": "fit",
    "number": "no",
    "count": "n",
    "borehole": "bh",
    "nondetect": "nd",
    "difference": "diff",
    "relative": "rel",
    "assumed": "assum",
    "holding": "hold",
    "replaced": "repl",
    "reported": "rep",
    "analysed": "anal",
    "started": "start",
    "offset": "off",
    "readings": "read",
    "preferred": "prefd",
    "element": "elem",
    "because": "why",
    "representative": "repres",
    "distribution": "distrib",
    "development": "develop",
    "description": "descr",
    "cumulative": "cum",
    "constant": "const",
    "score": "scr",
    "change": "chg",
    "before": "bef",
    "submergence": "submg",
    "deflated": "defl",
    "flux": "flux",
}


def short_names(names: Iterable[str], columns: Iterable[Column] = ()) -> dict[str, str]:
    """A name of at most ten characters for each, once whatever its case, the same every time.

    Parameters
    ----------
    names : iterable of str
        Full names.
    columns : iterable of Column
        What is known of them: a unit is left off the end of a name that would be too long.

    Returns
    -------
    dict of str to str
        Short names by full ones; a name that fits is kept.
    """
    units = {c.name: UNITS.get(c.unit, c.unit.lower()) for c in columns}
    wanted = list(names)
    found = {name: name for name in wanted if len(name.encode()) <= LONGEST}
    taken = {name.lower() for name in found.values()}
    for name in wanted:
        if name in found:
            continue
        short = _fitted(name.removesuffix(f"_{units[name]}") if units.get(name) else name)
        found[name] = _free(short, taken)
        taken.add(found[name].lower())
    return {name: found[name] for name in wanted}


def _fitted(name: str) -> str:
    """Whole words where they fit, else the abbreviations of the trade, else fewer letters."""
    if len(name.encode()) <= LONGEST:
        return name
    if not name.isascii():
        return name.encode()[:LONGEST].decode(errors="ignore")
    parts = [WORDS.get(word, word) for word in name.split("_")]
    while len("_".join(parts)) > LONGEST and max(map(len, parts)) > 1:
        longest = max(range(len(parts)), key=lambda i: len(parts[i]))
        parts[longest] = parts[longest][:-1]
    return "_".join(parts)[:LONGEST]


def _free(short: str, taken: set[str]) -> str:
    """The name, or the name with a number where another column has it."""
    tried, number = short, 0
    while tried.lower() in taken:
        number += 1
        end = str(number)
        tried = short.encode()[: LONGEST - len(end)].decode(errors="ignore") + end
    return tried
