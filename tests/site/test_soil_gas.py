"""Soil gas all the way: its units, a model of it alone, its map above the water, its styles."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile import app
from geoprofile.cli import main
from geoprofile.drawing.styles import style_of
from geoprofile.engine.rows import frame
from geoprofile.errors import UsageError
from geoprofile.formats import geotiff
from geoprofile.intake.gases import mass_per_volume
from geoprofile.plugins import no_progress
from geoprofile.products.soil_gas.fitted import fitted_gas
from geoprofile.products.soil_gas.inputs import State, molar_masses
from geoprofile.products.soil_gas.soil_gas import PLUGIN
from geoprofile.products.soil_gas.words import gas_in_words
from geoprofile.report.content import Content
from geoprofile.report.gas_maps import gas_maps
from geoprofile.report.page import page as whole_page
from geoprofile.report.parts import concentrations
from geoprofile.report.values import values_of
from geoprofile.site import Site, records_of
from geoprofile.store import Store

sys.path.insert(0, str(Path(__file__).parents[1] / "cli"))
import corner_site

HOLES = {f"G{k + 1}": (20.0 * (k % 4), 18.0 * (k // 4)) for k in range(8)}
TOPS = (1.0, 3.0)
EMPTY_BANDS = frame("soil_gas_band", [], "EPSG:32632")
DEFAULTS = {s.name: s.default for s in PLUGIN.settings}
SETTINGS = '[soil_gas]\nmolar_masses = ["benzene: 78.11"]\ncell_m = 5.0\n'


def amount(hole: str, top: float) -> float:
    """Invented gas that falls off round one place [ug/m3]."""
    x, y = HOLES[hole]
    return 20_000.0 * 10.0 ** (-math.hypot(x - 30, y - 10) / 20) * top / 3.0


def files(water_ug_per_l: float | None = None, level_m: float | None = None) -> dict[str, str]:
    """Gas in eight holes at two depths; water sampled below it, and its level, where told."""
    table = corner_site.table
    zones = [(f"{h}-g{t:g}", h, t, t + 0.5, "soil gas") for h in HOLES for t in TOPS]
    results = [
        (f"S{n}", "benzene", f"{v:.4g}" if (v := amount(h, t)) > 300 else "<300", "ug/m3")
        for n, h, t, *_ in zones
    ]
    if water_ug_per_l is not None:
        zones += [(f"{h}-w", h, 10.0, 12.0, "water") for h in HOLES]
        results += [(f"S{h}-w", "benzene", water_ug_per_l, "ug/L") for h in HOLES]
    made = {
        "site.toml": corner_site.settings(more=SETTINGS),
        "boreholes.csv": corner_site.boreholes(HOLES, depth_m=15.0),
        "intervals.csv": table(
            "interval,borehole,top_m,bottom_m,isolation",
            [(n, h, a, b, "screen") for n, h, a, b, _ in zones],
        ),
        "samples.csv": table(
            "sample,interval,sampled_at,round,medium",
            [
                (f"S{n}", n, "2026-06-01T09:30" if m != "water" else "2026-05-01T09:30", "R1", m)
                for n, *_, m in zones
            ],
        ),
        "results.csv": table("sample,analyte,value,unit", results),
        "criteria.csv": "analyte,medium,value,unit,basis\nbenzene,soil gas,1000,ug/m3,made up\n",
    }
    if level_m is not None:
        made["water_levels.csv"] = table(
            "borehole,measured_at,depth_to_water_m",
            [(h, "2026-05-01T10:00", level_m) for h in HOLES],
        )
    return made


def derived(folder: Path, *how: float | None) -> Site:
    """A site with its layers of soil gas, and of heads for the water level."""
    corner_site.write(folder, files(*how))
    database = folder / "site.gpkg"
    app.create(database, crs="EPSG:32632")
    app.load(database, [folder])
    _, made = app.derive(database, ["head", "soil_gas"], command="check")
    return made


@pytest.fixture(scope="module")
def gas_only(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with gas and nothing else, run through the command."""
    folder = corner_site.write(tmp_path_factory.mktemp("gas") / "site", files())
    sys.argv = ["geoprofile", "run", str(folder), "--quiet"]
    main()  # leaves by SystemExit where anything is wrong
    return folder


@pytest.fixture(scope="module")
def gas_site(gas_only: Path) -> Site:
    """The same, as tables."""
    return Store.open(gas_only / "site.gpkg").read()


def test_one_ppm_of_benzene_is_3_19_mg_per_m3() -> None:
    """NIOSH Pocket Guide, benzene: 1 ppm = 3.19 mg/m3 at 25 degC and 1 atm (from memory)."""
    assert State(25.0, 101.325).ppmv(3190.0, 78.11) == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize("state", [(0.0, 101.325), (20.0, 98.0), (35.0, 84.0)])
def test_what_is_read_in_ppmv_is_told_in_the_same_ppmv(state: tuple[float, float]) -> None:
    """Reading and telling are each other's inverse."""
    mg_per_m3 = float(mass_per_volume(7.5, 131.39, *state))
    assert State(*state).ppmv(1000.0 * mg_per_m3, 131.39) == pytest.approx(7.5)


@pytest.mark.parametrize("entry", ["benzene", "benzene: heavy", ": 78", "benzene: -3"])
def test_a_molar_mass_that_is_none_is_refused(entry: str) -> None:
    """Four parts, with the entry."""
    with pytest.raises(UsageError, match="molar_masses"):
        molar_masses([entry])


def test_a_site_of_gas_alone_leaves_a_map_of_gas(gas_only: Path, gas_site: Site) -> None:
    """Exit 0, a figure at the depth of the highest value, a line that says what was found."""
    assert (gas_only / "out" / "soil_gas_benzene_3_25_m.png").stat().st_size > 10_000
    (line,) = gas_in_words(gas_site)
    assert "mapped above the water level" in line
    assert "ug/m3 (" in line
    assert "ppmv)" in line
    assert gas_site.table("model").empty


def test_the_map_agrees_with_what_was_measured(gas_site: Site) -> None:
    """At each hole the band of its depth holds the value, to within half a class."""
    bands = records_of(gas_site.table("soil_gas_band"))
    rows = [r for r in bands if r["statistic"] == "median"]
    assert {r["depth_m"] for r in rows} == {1.25, 3.25}
    seen = 0
    for hole, (x, y) in HOLES.items():
        value, place = amount(hole, 3.0), shapely.Point(corner_site.EAST + x, corner_site.NORTH + y)
        for row in rows:
            if row["depth_m"] != 3.25 or not row["geometry"].covers(place):
                continue
            seen += 1
            assert value >= (row["lower"] or 0.0) / 1.8, hole
            assert row["upper"] is None or value <= 1.8 * row["upper"] or value < 300, hole
    assert seen == len(HOLES)


def test_no_result_of_water_enters_the_model_of_gas(tmp_path: Path, gas_site: Site) -> None:
    """With water a million times as strong below it, model and map of gas stay as they are."""
    beside = derived(tmp_path, 1e6)
    assert set(beside.concentration["medium"]) == {"water", "soil gas"}
    for name in ("soil_gas_model", "soil_gas_band"):
        one, other = gas_site.table(name), beside.table(name)
        assert len(one) == len(other) > 0
        for column in set(one.columns) - {"run", "geometry"}:
            assert list(one[column].dropna()) == list(other[column].dropna()), column
    pair = (gas_site.table("soil_gas_band"), beside.table("soil_gas_band"))
    areas = [t.geometry.area.to_numpy() for t in pair]
    np.testing.assert_allclose(*areas)
    page = Content(beside)  # water was sampled a month before the gas, in a round of the same name
    assert page.quantities == ["benzene", "benzene in soil gas"]
    assert len(values_of(page, "benzene")) == len(HOLES)
    assert len(values_of(page, "benzene in soil gas")) == 2 * len(HOLES)


def test_nothing_is_mapped_below_the_water(tmp_path: Path) -> None:
    """Water at 2 m: a map at 1 m, none at 3 m, and the reason."""
    site = derived(tmp_path, None, 2.0)
    assert set(site.table("soil_gas_band")["depth_m"]) == {1.25}
    blanks = records_of(site.table("soil_gas_blank"))
    assert {(r["depth_m"], r["reason"]) for r in blanks} == {(3.25, "below the water level")}


def test_two_holes_have_values_and_no_map(tmp_path: Path) -> None:
    """Too few holes: a finding, no model, the values in both units."""
    few = files()
    kept = [line for line in few["boreholes.csv"].splitlines() if line[:3] in ("bor", "G1,", "G2,")]
    few["boreholes.csv"] = "\n".join(kept) + "\n"
    for name in ("intervals.csv", "samples.csv", "results.csv"):
        lines = few[name].splitlines()
        few[name] = "\n".join([lines[0], *(x for x in lines if "G1-" in x or "G2-" in x)]) + "\n"
    corner_site.write(tmp_path, few)
    app.create(tmp_path / "site.gpkg", crs="EPSG:32632")
    app.load(tmp_path / "site.gpkg", [tmp_path])
    _, site = app.derive(tmp_path / "site.gpkg", ["soil_gas"], command="check")
    assert site.table("soil_gas_band").empty
    told = [str(r["what"]) for r in records_of(site.table("finding"))]
    assert (
        "no map of benzene in soil gas: found results in 2 borehole(s), expected at least 3" in told
    )
    assert len(site.table("soil_gas")) == 4


@dataclass(frozen=True, eq=False)
class WatchedSite(Site):
    """A site that notes which tables are asked for."""

    seen: set[str] = field(default_factory=set)

    def table(self, name: str) -> pd.DataFrame:
        """The table, noted."""
        self.seen.add(name)
        return super().table(name)


def test_the_layer_reads_what_it_declares(gas_site: Site) -> None:
    """What makes it stale is what it looks at."""
    watched = WatchedSite(**vars(gas_site), seen=set())
    PLUGIN.compute(watched, gas_site.settings_of("soil_gas") | DEFAULTS, no_progress)
    assert watched.seen == set(PLUGIN.reads)


def test_legends_of_gas_speak_of_gas(gas_site: Site) -> None:
    """The layer of concentrations divides by ug/L and tells ug/m3; the report tells ppmv."""
    rows = records_of(gas_site.concentration)
    (rule,) = style_of("concentration", rows).rules
    assert rule.title == "benzene in soil gas, R1"
    assert ("medium", "soil gas") in {(c.column, c.value) for c in rule.conditions}
    part = next(p for p in rule.parts if p.title.startswith("1000 to 3000"))
    assert part.title == "1000 to 3000 µg/m³"
    assert [c.value for c in part.conditions] == [1.0, 3.0]
    water = [{**row, "medium": "water"} for row in rows]
    assert style_of("concentration", water).rules[0].title == "benzene, R1"
    page = concentrations(Content(gas_site))
    assert "ppmv" in page
    assert "78.11 g/mol" in page
    assert "25 °C and 101.325 kPa" in page


def test_the_report_has_a_map_of_gas_for_each_depth(gas_site: Site, tmp_path: Path) -> None:
    """In the unit of gas, with what was measured there; nothing where no gas is mapped."""
    page = gas_maps(Content(gas_site))
    depths = set(gas_site.table("soil_gas_band")["depth_m"])
    assert page.count("<figure") == len(depths) == 2
    for depth in depths:
        assert f"benzene in soil gas at {depth:g} m below ground" in page
    assert "µg/m³" in page
    assert "µg/L" not in page
    assert page.count('class="bar-') == 2 * len(HOLES)
    assert "&lt;300" in page
    assert "air in a building or a trench" in page
    assert 'id="soil-gas"' in whole_page(gas_site)
    wet = gas_maps(Content(derived(tmp_path, None, 2.0)))
    assert wet.count("<figure") == 1
    assert "at 1.25 m below ground" in wet
    empty = replace(gas_site, tables={**gas_site.tables, "soil_gas_band": EMPTY_BANDS})
    assert gas_maps(Content(empty)) == ""


def test_rasters_of_gas_show_what_its_maps_show(gas_site: Site, tmp_path: Path) -> None:
    """A band per depth below ground, in ug/m3, each value in the class of its map."""
    rasterio = pytest.importorskip("rasterio")
    written = geotiff.write(gas_site, str(tmp_path), {"cell_m": 1.0, "elevations_m": []})
    names = [f"benzene_in_soil_gas_R1_{s}" for s in ("median", "sd", "probability")]
    assert {f"{n}{end}" for n in names for end in (".tif", ".qml")} <= set(written.files)
    bands = gas_site.table("soil_gas_band")
    bands = bands[bands["statistic"] == "median"]
    depths = sorted(set(bands["depth_m"]))
    with rasterio.open(tmp_path / f"{names[0]}.tif") as file:
        assert file.units == ("ug/m3",) * len(depths)
        rows, columns = np.mgrid[0 : file.height, 0 : file.width]
        x, y = rasterio.transform.xy(file.transform, rows.ravel(), columns.ravel())
        held = 0
        for number, depth in enumerate(depths, start=1):
            assert file.descriptions[number - 1] == f"depth below ground={depth:.2f} m"
            assert float(file.tags(number)["depth_below_ground_m"]) == depth
            values = file.read(number).ravel().astype(float)
            for row in records_of(bands[bands["depth_m"] == depth]):
                mine = shapely.contains_xy(row["geometry"].buffer(-1.0), x, y)
                assert (values[mine] >= (row["lower"] or 0.0) * 0.9).all()
                assert (values[mine] <= (row["upper"] or math.inf) * 1.1).all()
                held += int(mine.sum())
    assert held > 1000


def _without_values(site: Site) -> pd.DataFrame:
    """Concentrations whose values are kept back."""
    return site.concentration.drop(columns="value_ug_per_l")


def test_rasters_of_gas_are_blank_below_the_water(tmp_path: Path) -> None:
    """With the water at 2 m there is the band of 1.25 m alone."""
    rasterio = pytest.importorskip("rasterio")
    site = derived(tmp_path / "site", None, 2.0)
    geotiff.write(site, str(tmp_path), {"cell_m": 5.0, "elevations_m": []})
    with rasterio.open(tmp_path / "benzene_in_soil_gas_R1_median.tif") as file:
        assert file.descriptions == ("depth below ground=1.25 m",)
        assert (file.read(1) != file.nodata).any()
    for name, table in (
        ("interval", site.intervals.iloc[:0]),
        ("concentration", _without_values(site)),
    ):
        less = replace(site, tables={**site.tables, name: table})
        assert fitted_gas(less) == []  # kept back: no raster, and no stop
