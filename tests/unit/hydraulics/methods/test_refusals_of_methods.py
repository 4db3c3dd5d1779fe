"""Methods refuse what they are not made for, in words."""

import dataclasses

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.hydraulics.lines import Line
from geoprofile.hydraulics.methods import (
    bouwer_rice,
    hvorslev,
    hvorslev_confining_layer,
    moye,
    partial_penetration,
    pulse,
    thiem,
)
from geoprofile.hydraulics.readings import treat
from geoprofile.hydraulics.spread import bounds
from geoprofile.hydraulics.straight import _judge_line
from geoprofile.plugins import registry

ROOF = hvorslev_confining_layer.example(1e-5)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"interval_length_m": 0.0}, "open end"),
        ({"aquifer_top_m": 5.0}, "impermeable upper boundary"),
        ({"aquifer_base_m": 15.0}, "radial"),
    ],
)
def test_upper_boundary_formula_says_why_not(changes: dict[str, object], words: str) -> None:
    """The refusals of the formula for an impermeable upper boundary."""
    fit = hvorslev_confining_layer.applies(dataclasses.replace(ROOF, **changes))
    assert not fit.applies
    assert words in fit.reason


@pytest.mark.parametrize("method", [moye, thiem])
def test_short_interval_is_not_for_cylinder_formulas(method: object) -> None:
    """Under four hole radii a cylinder is no picture of the flow."""
    plugin = method.PLUGIN  # type: ignore[attr-defined]
    short = dataclasses.replace(plugin.example(1e-6), interval_length_m=0.15)
    assert "four hole radii" in plugin.applies(short).reason
    with pytest.raises(DataError, match="hole radii"):
        plugin.run(short)
    closed = dataclasses.replace(short, interval_length_m=0.0)
    assert "open end" in plugin.applies(closed).reason


def test_open_end_is_not_for_curves() -> None:
    """A curve needs an open wall, even when the user chose it."""
    test = dataclasses.replace(partial_penetration.example(1e-5), interval_length_m=0.0)
    with pytest.raises(DataError, match="half a hole radius"):
        partial_penetration.run(test)
    shut = dataclasses.replace(pulse.example(1e-12), interval_length_m=0.0)
    assert "open wall" in pulse.applies(shut).reason


@pytest.mark.parametrize(
    ("sd", "grade"), [(0.1, "accepted"), (0.5, "qualified"), (2.0, "rejected")]
)
def test_slope_that_is_poorly_known_is_graded(sd: float, grade: str) -> None:
    """A line with a wide slope is qualified, one that says nothing rejected."""
    treated = treat(hvorslev.example(1e-5))
    rows = np.ones(treated.time_s.size, dtype=bool)
    line = Line(100.0, 1.0, sd, 0.001, 0.0, (0.9, 0.1), rows)
    assert _judge_line(treated, line, 1.0).grade == grade


@pytest.mark.parametrize("method", [hvorslev, hvorslev_confining_layer, bouwer_rice])
def test_open_end_is_not_for_interval_formulas(method: object) -> None:
    """An insisting user is answered, not crashed on."""
    plugin = method.PLUGIN  # type: ignore[attr-defined]
    test = dataclasses.replace(plugin.example(1e-5), interval_length_m=0.0)
    with pytest.raises(DataError, match="open ends"):
        plugin.run(test)


def test_bounds_of_an_unknown_k_stay_numbers() -> None:
    """An sd that says nothing does not overflow."""
    low, high = bounds(1e-6, 1e9)
    assert 0 < low < 1e-6 < high < np.inf


def test_every_method_is_found_by_its_name() -> None:
    """The family holds its methods; a wrong name is answered with the near one."""
    names = set(registry.plugins("methods"))
    assert {"hvorslev", "bouwer-rice", "partial-penetration", "pulse", "moye"} <= names
