"""Made-up sites for the corners: each test says what is odd about its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

EAST, NORTH = 500_000.0, 5_300_000.0
CORNERS: Mapping[str, tuple[float, float]] = {
    "B1": (0.0, 0.0),
    "B2": (40.0, 5.0),
    "B3": (20.0, 40.0),
    "B4": (60.0, 45.0),
    "B5": (-20.0, 30.0),
}


def table(header: str, rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV."""
    return "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n"


def write(folder: Path, files: Mapping[str, str]) -> Path:
    """The files in a folder, which is made; the folder."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def settings(crs: str = "EPSG:32632", more: str = "") -> str:
    """A site.toml."""
    return f"crs = '''{crs}'''\nname = \"made-up corner\"\n{more}"


def boreholes(
    places: Mapping[str, tuple[float, float]] = CORNERS,
    *,
    origin: tuple[float, float] = (EAST, NORTH),
    depth_m: float = 25.0,
    ground_m: float = 100.0,
) -> str:
    """Boreholes at places counted from an origin."""
    return table(
        "borehole,x,y,ground_elevation_m,depth_m",
        [(h, origin[0] + x, origin[1] + y, ground_m, depth_m) for h, (x, y) in places.items()],
    )


def fuel_site() -> dict[str, str]:
    """Gas zones above the water, and the highest water value in the zone at the water table."""
    gas = [(f"{h}-g{i}", h, top, top + 1.0, "") for h in CORNERS for i, top in ((1, 1.0), (2, 2.5))]
    water = [
        (f"{h}-w{i}", h, top, top + 1.0, 6.0)
        for h in CORNERS
        for i, top in ((1, 6.2), (2, 9.0), (3, 13.0), (4, 18.0))
    ]
    zones = [*gas, *water]
    results = []
    for name, hole, top, _, static in zones:
        if static == "":
            results.append((f"S{name}", "benzene", 5000, "ug/m3"))
            continue
        away = ((CORNERS[hole][0] - 40) ** 2 + (CORNERS[hole][1] - 5) ** 2) ** 0.5
        value = 900 * 10 ** (-away / 40 - (top - 6.2) / 5)
        results.append((f"S{name}", "benzene", f"{value:.3g}", "ug/L"))
    return {
        "site.toml": settings(),
        "boreholes.csv": boreholes(),
        "intervals.csv": table(
            "interval,borehole,top_m,bottom_m,isolation,static_depth_m,set_at",
            [(n, h, a, b, "screen", s, "2026-05-05T10:00" if s else "") for n, h, a, b, s in zones],
        ),
        "samples.csv": table(
            "sample,interval,sampled_at,round,medium",
            [
                (f"S{n}", n, "2026-06-01T09:30", "R1", "soil gas" if s == "" else "water")
                for n, _, _, _, s in zones
            ],
        ),
        "results.csv": table("sample,analyte,value,unit", results),
        "criteria.csv": "analyte,value,unit,basis\nbenzene,10,ug/L,made up\n",
        "section_lines.geojson": (
            '{"type":"FeatureCollection","crs":{"type":"name",'
            '"properties":{"name":"EPSG:32632"}},"features":[{"type":"Feature","properties":'
            '{"name":"along"},"geometry":{"type":"LineString","coordinates":'
            f"[[{EAST - 30},{NORTH}],[{EAST + 80},{NORTH + 10}]]}}}}]}}"
        ),
    }
