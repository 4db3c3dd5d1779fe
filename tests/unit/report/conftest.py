"""An invented site with every table that the report shows, of any number of boreholes."""

import math

import pandas as pd
import pytest
import shapely

from geoprofile.engine.rows import frame
from geoprofile.report import page
from geoprofile.site import Site

CRS = "EPSG:32628"
EAST, NORTH = 500_000.0, 4_000_000.0
SUBSTANCES = ("toluene", "naphthalene", "chromium")
HOSTILE = (
    "<script>alert(1)</script>",
    "=cmd()",
    "../../x",
    "n" * 300,
    "שלום \u202e txt.exe",
    '" onload="alert(1)',
    "</svg><img src=x onerror=alert(1)>",
    "a\x00b\x1bc",
)


def _line(x, y, top, bottom):
    return shapely.LineString([(x, y, 10.0 - top), (x, y, 10.0 - bottom)])


def _blob(x, y, radius):
    return shapely.MultiPolygon([shapely.Point(x, y).buffer(radius, quad_segs=24)])


class Builder:
    """Rows by table."""

    def __init__(self):
        self.rows = {}

    def add(self, table, **row):
        """One row of run 3."""
        self.rows.setdefault(table, []).append({**row, "run": 3})


def _hole(made, name, place, xy):
    x, y = xy
    made.add(
        "borehole",
        borehole=name,
        x=x,
        y=y,
        ground_elevation_m=10.0,
        depth_m=30.0,
        geometry=shapely.Point(x, y, 10.0),
    )
    for top, bottom, unit in ((0.0, 8.0, "sand"), (8.0, 30.0, "chalk")):
        made.add("lithology", borehole=name, top_m=top, bottom_m=bottom, unit=unit)
    for step in range(5):
        _interval(made, name, place, xy, step)


def _interval(made, name, place, xy, step):
    interval, top = f"{place}-{step}", 9.0 + 4.0 * step
    shape = _line(*xy, top, top + 2.0)
    common = {"interval": interval, "borehole": name, "top_m": top, "bottom_m": top + 2.0}
    k = 10 ** (-5 + math.sin(place + step))
    spread = {"k_low_m_per_s": k / 2, "k_high_m_per_s": k * 2, "sd_log10_k": 0.15}
    grade = ("accepted", "qualified", "rejected")[(place + step) % 3]
    made.add("interval", **common, isolation="straddle")
    made.add("test", test=f"t-{interval}", interval=interval, kind="falling head")
    result = {"k_m_per_s": k, **spread, "grade": grade, "geometry": shape}
    made.add(
        "conductivity",
        **common,
        **result,
        test=f"t-{interval}",
        method="hvorslev",
        preferred=True,
        notes="short early rise",
        initial_displacement_m=0.61,
    )
    _behind(made, interval, name, k)
    made.add("interval_conductivity", **common, **result, tests=1)
    sample = f"s-{interval}"
    made.add("sample", sample=sample, interval=interval, sampled_at="2031-05-06T09:00:00Z")
    for substance in SUBSTANCES:
        found = (place + step + len(substance)) % 3 > 0
        made.add(
            "concentration",
            **common,
            analyte=substance,
            round=None,
            sampled_at="2031-05-06T09:00:00Z",
            value_ug_per_l=3.0 * (1 + step) if found else None,
            detected=found,
            limit_ug_per_l=None if found else 0.5,
            exceeds=found and step > 2,
            geometry=shape,
        )
    if step < 3:
        _two_rounds(made, common, place + step)


def _two_rounds(made, common, turn):
    """Toluene in two rounds: a fall, a change within scatter, and a second non-detect."""
    before, after, verdict = (
        (40.0, 4.0, "fall"),
        (20.0, 18.0, "within scatter"),
        (None, None, "not detected in both"),
    )[turn % 3]
    made.add(
        "round_change",
        **common,
        analyte="toluene",
        medium="water",
        round_before="R1",
        round="R2",
        value_before_ug_per_l=before,
        limit_before_ug_per_l=None if before else 0.5,
        value_ug_per_l=after,
        limit_ug_per_l=None if after else 0.5,
        change_log10=math.log10(after / before) if before else None,
        scatter_log10=0.15,
        verdict=verdict,
    )


def _behind(made, interval, name, k):
    """Curve, budget and held-out value of one test."""
    at = {"interval": interval, "borehole": name}
    for time, head in ((0.0, 1.0), (20.0, 0.5), (40.0, 0.26), (60.0, 0.12)):
        fit = math.exp(-time / 29.0)
        curve = {"elapsed_s": time, "normalised_head": head, "fitted_normalised_head": fit}
        made.add(
            "test_curve", **at, **curve, test=f"t-{interval}", method="hvorslev", used=head > 0.2
        )
    made.add(
        "conductivity_budget",
        **at,
        test=f"t-{interval}",
        input="riser radius",
        contribution_log10=0.1,
        share=0.8,
    )
    told = {"predicted_median": 2 * k, "predicted_low": k / 3, "predicted_high": 12 * k}
    made.add("held_out", **at, **told, quantity="K", unit="m/s", measured=k)


def _maps(made, names, count, wide):
    for substance in SUBSTANCES:
        for chance, radius in ((0.1, 60.0), (0.5, 40.0), (0.9, 20.0)):
            made.add(
                "plume_extent",
                analyte=substance,
                round=None,
                criterion_ug_per_l=10.0,
                probability=chance,
                surface="any depth",
                area_m2=math.pi * radius**2,
                volume_m3=9000.0,
                volume_low_m3=4000.0,
                volume_high_m3=15000.0,
                geometry=_blob(EAST + wide / 2, NORTH + 40.0, radius),
            )
    for index, section in enumerate(("along", "<b>across</b>")):
        start = index * (wide + 100.0)
        made.add(
            "section_trace",
            section=section,
            length_m=wide,
            sheet_start_m=start,
            band_width_m=20.0,
            geometry=shapely.LineString([(EAST, NORTH + 9 * index), (EAST + wide, NORTH + 70)]),
        )
        _sheet(made, section, names[index :: max(1, count // 20)], start, wide)


def _sheet(made, section, names, start, wide):
    def across(low, high):
        return shapely.LineString([(start, low), (start + wide, high)])

    made.add("section_surface", section=section, surface="ground", geometry=across(10, 10))
    made.add("section_surface", section=section, surface="water level", geometry=across(6, 5))
    for quantity in (*SUBSTANCES, "K"):
        for level in range(8):
            made.add(
                "section_band",
                section=section,
                quantity=quantity,
                statistic="median",
                lower=10.0 ** (level / 2 - (6 if quantity == "K" else 0)),
                unit="m/s" if quantity == "K" else "ug/L",
                label=f"band {level}",
                certainty=("supported", "uncertain")[level % 2],
                geometry=_blob(start + wide / 2, -8.0, 10.0 - level),
            )
    for place, name in enumerate(names):
        x = start + wide * (place + 0.5) / len(names)
        made.add(
            "section_hole",
            section=section,
            borehole=name,
            projection_distance_m=3.0,
            geometry=shapely.LineString([(x, 10.0), (x, -20.0)]),
        )
        number = [r["borehole"] for r in made.rows["borehole"]].index(name)
        for step in range(5):
            top = 1.0 - 4.0 * step
            made.add(
                "section_interval",
                section=section,
                interval=f"{number}-{step}",
                borehole=name,
                quantity="K",
                geometry=shapely.LineString([(x, top), (x, top - 2.0)]),
            )


def _rest(made, names):
    made.add(
        "flow", gradient=0.004, azimuth_deg=80.0, azimuth_sd_deg=7.0, geometry=_line(0, 0, 1, 2)
    )
    made.add(
        "model",
        quantity="K",
        unit="m/s",
        transform="log10",
        covariance="matern 3/2",
        data_count=50,
        coverage_80=0.78,
        coverage_50=0.52,
        coverage_95=0.94,
        rmse_log10=0.4,
    )
    for rank, name in enumerate(names[:5], start=1):
        made.add(
            "next_test",
            rank=rank,
            borehole=name,
            top_m=5.0,
            bottom_m=7.0,
            reason="the field is least sure here",
            geometry=_line(EAST, NORTH, 5.0, 7.0),
        )
        made.add(
            "next_step",
            number=rank + 1,
            label=f"T{rank}",
            step="test",
            borehole=name,
            zones="5.0-7.0",
            quantities="toluene, K",
            x_m=EAST,
            y_m=NORTH,
            reason="the field is least sure here",
        )
    made.add(
        "next_step",
        number=1,
        label="D1",
        step="new borehole",
        depth_m=25.0,
        zones="5.0-7.0",
        quantities="toluene",
        x_m=EAST + 30,
        y_m=NORTH + 20,
        reason="not bounded to the south",
    )
    made.add(
        "next_borehole",
        rank=1,
        depth_m=25.0,
        reason="edge of the plume",
        geometry=shapely.Point(EAST + 30, NORTH + 20, 10.0),
    )
    made.add(
        "finding",
        source_table="result",
        row_key="s",
        what="limit above the criterion",
        severity="serious",
        what_to_do="Ask the laboratory.",
        step="concentration",
    )
    made.add(
        "area",
        name="yard <1>",
        kind="site",
        geometry=shapely.box(EAST - 20, NORTH - 20, EAST + 600, NORTH + 220),
    )


def _book(names):
    """The bookkeeping tables: two files, one run, and which row came from which file."""
    files = [
        {
            "source_file": file,
            "fingerprint": print_ * 32,
            "source_table": table,
            "rows": 9,
            "run": 1,
        }
        for file, print_, table in (("readings/a.csv", "ab", "reading"), ("r.csv", "cd", "result"))
    ]
    loaded = [
        {
            "source_table": table,
            "row_key": key,
            "fingerprint": "x",
            "source_file": file,
        }
        for i in range(len(names))
        for table, key, file in (
            ("reading", f"t-{i}-0", "readings/a.csv"),
            ("result", f"s-{i}-0", "r.csv"),
        )
    ]
    runs = [
        {"run": n, "command": "run", "version": "0.1", "settings": "{}", "figures": figures}
        for n, figures in (
            (1, '{"plume_area_m2": {"toluene above 10 ug/L": 5000}}'),
            (3, '{"plume_area_m2": {"toluene above 10 ug/L": 4000}}'),
        )
    ]
    return {
        "source_file": pd.DataFrame(files),
        "loaded": pd.DataFrame(loaded),
        "run": frame("run", runs, CRS).assign(run=[1, 3]),
    }


def build(count, names=None):
    """A site of `count` boreholes on a grid of ten columns."""
    names = names or [f"H{i:03d}" for i in range(count)]
    made = Builder()
    for place, name in enumerate(names):
        _hole(made, name, place, (EAST + 60.0 * (place % 10), NORTH + 55.0 * (place // 10)))
    _maps(made, names, count, 500.0)
    _rest(made, names)
    tables = {t: frame(t, rows, CRS).assign(run=3) for t, rows in made.rows.items()}
    return Site("Works & co <b>", CRS, "yard datum", tables={**tables, **_book(names)})


@pytest.fixture(scope="session")
def report_site():
    """Eight boreholes."""
    return build(8)


@pytest.fixture(scope="session")
def report_text(report_site):
    """Its page, made once."""
    return page(report_site)


@pytest.fixture(scope="session")
def hostile_site():
    """Boreholes whose names try to break out of the page."""
    return build(len(HOSTILE), list(HOSTILE))


@pytest.fixture(scope="session")
def large_site():
    """Two hundred boreholes, a thousand intervals, three thousand concentrations."""
    return build(200)


@pytest.fixture(scope="session")
def long_names_site():
    """Forty boreholes whose names differ in their last letters only."""
    stem = "Observation well of the northern harbour basin, number "
    return build(40, [f"{stem}{n:03d}" for n in range(40)])


@pytest.fixture
def site_with(monkeypatch):
    """A site of twelve boreholes with the substances asked for."""

    def made(substances):
        monkeypatch.setitem(globals(), "SUBSTANCES", substances)
        return build(12)

    return made
