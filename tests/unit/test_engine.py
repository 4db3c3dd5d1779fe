"""Order, settings and freshness of layers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd
import pytest

from geoprofile.engine import (
    check_overrides,
    check_reached,
    chosen_settings,
    fingerprints,
    in_order,
    needed,
)
from geoprofile.engine.computing import compute
from geoprofile.errors import UsageError
from geoprofile.plugins import Layer, Setting
from geoprofile.site import Site


def layer(name: str, reads: tuple[str, ...], writes: tuple[str, ...], **more: Any) -> Layer:
    """A layer that gives empty tables."""

    def nothing(site: Site, settings: Mapping[str, Any], progress: Any) -> dict[str, pd.DataFrame]:
        return {t: site.table(t).drop(columns="run") for t in writes}

    return Layer(name, name, reads, writes, more.pop("compute", nothing), **more)


CHAIN = {
    "map": layer("map", ("model",), ("map_band",)),
    "model": layer("model", ("head", "interval"), ("model",)),
    "head": layer("head", ("interval",), ("head",)),
    "flow": layer("flow", ("head",), ("flow",)),
}


def test_layers_come_after_what_they_read() -> None:
    """Heads, then flow and field, then the map."""
    names = [x.name for x in in_order(CHAIN)]
    assert names.index("head") < names.index("model") < names.index("map")


def test_a_circle_is_refused() -> None:
    """Two layers that wait for each other are named."""
    circle = {
        "a": layer("a", ("flow",), ("head",)),
        "b": layer("b", ("head",), ("flow",)),
    }
    with pytest.raises(UsageError, match="a circle among a, b"):
        in_order(circle)


def test_two_writers_of_one_table_are_refused() -> None:
    """A table has one maker."""
    with pytest.raises(UsageError, match="writes too"):
        in_order({"a": layer("a", (), ("head",)), "b": layer("b", (), ("head",))})


def test_a_change_reaches_only_what_depends_on_it() -> None:
    """A changed water level makes heads, fields and maps stale, and a changed packer nothing."""
    ordered = in_order({**CHAIN, "path": layer("path", ("borehole",), ("borehole_path",))})
    settings: dict[str, dict[str, Any]] = {x.name: {} for x in ordered}
    before = fingerprints(ordered, settings, lambda table: "same")
    after = fingerprints(ordered, settings, lambda t: "new" if t == "interval" else "same")
    assert {n for n in before if before[n] != after[n]} == {"head", "flow", "model", "map"}


def test_a_changed_setting_makes_its_layer_stale() -> None:
    """Settings are part of the fingerprint."""
    ordered = in_order(CHAIN)
    settings: dict[str, dict[str, Any]] = {x.name: {} for x in ordered}
    before = fingerprints(ordered, settings, str)
    settings["model"] = {"mean": "constant"}
    after = fingerprints(ordered, settings, str)
    assert {n for n in before if before[n] != after[n]} == {"model", "map"}


def test_only_what_a_target_rests_on_is_needed() -> None:
    """The field needs the heads and not the map."""
    assert needed(in_order(CHAIN), ["model"]) == {"model", "head"}


SETTINGS = (
    Setting("cells", 100, "1", "Cells", low=10, high=1000),
    Setting("mean", "constant", "", "Mean", allowed=("constant", "quadratic")),
    Setting("levels_m", [1.0], "m", "Levels"),
    Setting("width_m", 2.0, "m", "Width", low=0),
    Setting("units", [], "", "Units"),
)
SET = layer("set", (), ("head",), settings=SETTINGS)


def test_settings_come_from_defaults_then_file_then_command_line() -> None:
    """The command line wins over site.toml, which wins over the default."""
    chosen = chosen_settings(SET, {"cells": 50, "width_m": 3}, {"set.cells": "70"})
    assert chosen == {
        "cells": 70,
        "mean": "constant",
        "levels_m": [1.0],
        "width_m": 3.0,
        "units": [],
    }


@pytest.mark.parametrize(
    ("override", "words"),
    [
        ({"set.cell": "5"}, "Did you mean 'cells'"),
        ({"set.cells": "5"}, "10 or more"),
        ({"set.cells": "5000"}, "1000 or less"),
        ({"set.cells": "x"}, "a number"),
        ({"set.width_m": "nan"}, "--set set.width_m"),
        ({"set.cells": "50.5"}, "a whole number"),
        ({"set.mean": "linear"}, "constant, quadratic"),
        ({"set.levels_m": "3"}, "a list"),
        ({"set.levels_m": '[1, "two"]'}, "a list of numbers"),
        ({"set.units": '["clay", 0]'}, "a list of texts"),
        ({"set.units": '[["clay"]]'}, "a list of texts"),
        ({"set.cells": "9" * 5000}, r"9\.\.\. \(5002 characters\), expected a number"),
        ({"set.units": "[" * 100_000}, "a list"),
    ],
)
def test_wrong_settings_are_refused_with_what_is_allowed(
    override: dict[str, str], words: str
) -> None:
    """Each wrong setting is answered with the rule."""
    with pytest.raises(UsageError, match=words):
        chosen_settings(SET, {}, override)


def test_a_wrong_setting_of_the_site_is_told_with_its_layer() -> None:
    """Several layers have settings of one name."""
    with pytest.raises(UsageError, match=r"site\.toml \[set\] width_m: .*inf"):
        chosen_settings(SET, {"width_m": float("inf")}, {})


def test_an_override_must_name_a_layer() -> None:
    """A name without its layer is refused."""
    with pytest.raises(UsageError, match=r"LAYER\.SETTING"):
        check_overrides({"cells": "5"}, {"set": SET})


def test_an_override_that_would_do_nothing_is_refused() -> None:
    """A setting of a layer that the command does not compute is no silent wish."""
    check_reached({"set.cells": "5"}, {"set", "other"}, "map")
    with pytest.raises(UsageError, match="'set', which the command map does not compute"):
        check_reached({"set.cells": "5"}, {"other"}, "map")


def test_findings_of_fresh_layers_are_kept() -> None:
    """Only the findings of recomputed layers are replaced."""

    def one_finding(
        site: Site, settings: Mapping[str, Any], progress: Any
    ) -> dict[str, pd.DataFrame]:
        row = {
            "source_table": "t",
            "row_key": "k",
            "what": "new",
            "severity": "note",
            "what_to_do": "x",
        }
        return {"head": site.table("head").drop(columns="run"), "finding": pd.DataFrame([row])}

    old = pd.DataFrame(
        {
            "source_table": "t",
            "row_key": "k",
            "what": ["old head", "old flow"],
            "severity": "note",
            "what_to_do": "x",
            "step": ["head", "flow"],
            "run": 1,
        }
    )
    site = Site("s", "EPSG:32628", "", tables={"finding": old})
    made, _ = compute(site, [layer("head", (), ("head",), compute=one_finding)], {"head": {}})
    assert list(made["finding"]["what"]) == ["old flow", "new"]


def test_a_layer_that_forgets_a_table_is_refused() -> None:
    """What a layer declares, it must give."""
    short = layer("short", (), ("head",), compute=lambda s, t, p: {})
    with pytest.raises(UsageError, match="layer short"):
        compute(Site("s", "EPSG:32628", ""), [short], {"short": {}})
