"""Every table that a layer reads is one that it declares, and the other way round.

What a layer declares decides when it is stale: a table read in silence is a map that stays old.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd
import pytest
from beside import module_of

from geoprofile import app
from geoprofile.engine import chosen_settings, in_order
from geoprofile.plugins import Layer, no_progress
from geoprofile.plugins.registry import plugins
from geoprofile.site import Site
from geoprofile.store import Store

LAYERS: Mapping[str, Layer] = plugins("layers")
FEW = {"realisations": 20, "budget": 20000.0}
# declared, and read only on sites that have more than the one here
ONLY_ELSEWHERE: Mapping[str, frozenset[str]] = {
    "concentration": frozenset({"water_level"}),  # where soil gas was sampled
    # where soil gas was sampled: tests/site/test_soil_gas.py
    "soil_gas": frozenset({"borehole", "survey", "interval", "head", "area"}),
    "head_contour": frozenset({"borehole"}),  # for a hull, where no site area is drawn
}
WELLS = {"W1": (0, 40), "W2": (45, 42), "W3": (10, 20), "W4": (80, 20), "W5": (60, -20)}


@dataclass(frozen=True, eq=False)
class WatchedSite(Site):
    """A site that notes which tables are asked for."""

    seen: set[str] = field(default_factory=set)

    def table(self, name: str) -> pd.DataFrame:
        """The table, noted."""
        self.seen.add(name)
        return super().table(name)


def write_site(folder: Path) -> Path:
    """The small site with heads, a packer, a spacer, a log and a second round."""
    yard = module_of("history/small_yard.py")
    yard.write_yard(folder)
    holes = yard.HOLES | WELLS
    text = (folder / "boreholes.csv").read_text()
    for hole, (east, north) in WELLS.items():
        text += f"{hole},{yard.EAST + east},{yard.NORTH + north},{100.0 - east / 100},25,\n"
    (folder / "boreholes.csv").write_text(text)
    levels = ["borehole,interval,measured_at,depth_to_water_m"]
    levels += [f"{h},,2026-06-10T10:00,{1.0 + e / 200:.3f}" for h, (e, _) in holes.items()]
    (folder / "water_levels.csv").write_text("\n".join(levels) + "\n")
    logs = ["borehole,top_m,bottom_m,unit"]
    for hole, (east, north) in holes.items():
        edge = 9.0 + east / 50 + north / 100
        logs += [f"{hole},0,{edge},sand", f"{hole},{edge},25,rock"]
    (folder / "lithology.csv").write_text("\n".join(logs) + "\n")
    old = (folder / "samples.csv").read_text().splitlines()
    new = [
        f"N{line[1:]}".replace("2026-06-01", "2026-09-01").replace("R1", "R2") for line in old[1:]
    ]
    (folder / "samples.csv").write_text("\n".join([*old, *new]) + "\n")
    old = (folder / "results.csv").read_text().splitlines()
    (folder / "results.csv").write_text("\n".join([*old, *(f"N{x[1:]}" for x in old[1:])]) + "\n")
    return folder


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> dict[str, set[str]]:
    """The tables that each layer asked for, all computed in their order on one small site."""
    folder = write_site(tmp_path_factory.mktemp("reads") / "yard")
    path = folder / "site.gpkg"
    Store.create(path, name="yard", crs="EPSG:32632", vertical_datum="local")
    app.load(path, [folder])
    stored = Store.open(path).read()
    found: dict[str, set[str]] = {}
    for layer in in_order(LAYERS):
        few: dict[str, object] = {
            k: v for k, v in FEW.items() if k in {s.name for s in layer.settings}
        }
        if layer.name == "discharge":
            few["gradient"] = "local"
        if layer.name == "model":
            few["rounds"] = "all"  # so that there is a change between rounds
        settings = chosen_settings(layer, {**stored.settings_of(layer.name), **few}, {})
        watched = WatchedSite(**vars(stored), seen=set())
        made = dict(layer.compute(watched, settings, no_progress))
        made.pop("finding", None)
        if layer.name == "model":  # so few data are shown as limits, and no layer would read more
            made["model"] = made["model"].assign(shown_as="field")
        found[layer.name] = watched.seen
        stored = stored.with_tables(made).made_with(layer.name, settings)
    return found


@pytest.mark.parametrize("layer", LAYERS.values(), ids=lambda x: x.name)
def test_a_layer_reads_only_what_it_declares(layer: Layer, read: dict[str, set[str]]) -> None:
    """Nothing is read in silence."""
    assert read[layer.name] - set(layer.reads) == set()


@pytest.mark.parametrize("layer", LAYERS.values(), ids=lambda x: x.name)
def test_a_layer_declares_only_what_it_reads(layer: Layer, read: dict[str, set[str]]) -> None:
    """Nothing makes a layer stale that it does not look at."""
    unread = set(layer.reads) - read[layer.name]
    assert unread == set(ONLY_ELSEWHERE.get(layer.name, ()))
