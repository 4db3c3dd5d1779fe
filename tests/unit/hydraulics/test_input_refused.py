"""A test that cannot be right is refused, with every fault told at once."""

import dataclasses

import numpy as np
import pytest

from geoprofile.errors import DataError, DataErrors
from geoprofile.hydraulics import analyse
from geoprofile.hydraulics.methods.hvorslev import PLUGIN
from geoprofile.hydraulics.tests import PressureStep

GOOD = PLUGIN.example(1e-5)
LATE = np.append(GOOD.elapsed_s[:-1], -5.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"elapsed_s": LATE}, "negative time"),
        ({"displacement_m": np.full(120, 0.4)}, "readings that are all"),
        ({"displacement_m": -GOOD.displacement_m}, "at the start of a falling head"),
        ({"riser_radius_m": 0.2}, "a riser of 400 mm"),
        ({"riser_radius_m": None}, "no riser radius"),
        ({"riser_radius_m": -0.01}, "riser radius -0.01"),
        ({"tube_radii_m": (0.02, 0.02)}, "tubes that fill"),
        ({"hole_radius_m": 0.0}, "hole radius 0"),
        ({"interval_length_m": -1.0}, "interval length -1"),
        ({"static_depth_m": 20.0}, "above the static level"),
        ({"top_m": 16.0}, "above top"),
        ({"aquifer_base_m": 13.0}, "below the base"),
        ({"kv_kh": 0.0}, "kv_kh 0"),
        ({"displacement_m": GOOD.displacement_m[:-1]}, "119 displacements"),
        ({"displacement_m": np.full(120, np.nan)}, "0 usable readings"),
        ({"kind": "constant head"}, "no pressure steps"),
        (
            {
                "kind": "constant head",
                "pressure_steps": (PressureStep(step=1, flow_m3_per_s=-1e-4),),
            },
            "flow -6",
        ),
    ],
)
def test_fault_is_refused_in_words(changes: dict[str, object], words: str) -> None:
    """Each fault is found, and said with the test it is in."""
    test = dataclasses.replace(GOOD, **changes)
    with pytest.raises(DataErrors, match=words) as caught:
        analyse(test, [PLUGIN])
    assert "test example (example" in caught.value.problem.where
    assert caught.value.problem.advice


def test_all_faults_are_told_at_once() -> None:
    """Two faults give two problems."""
    with pytest.raises(DataErrors) as caught:
        analyse(dataclasses.replace(GOOD, hole_radius_m=-1.0, kv_kh=-1.0), [PLUGIN])
    assert len(caught.value.problems) >= 2


def test_unknown_choice_of_method_is_answered_with_the_names() -> None:
    """A fixed method that does not exist is an error."""
    with pytest.raises(DataError, match="hvorslev"):
        analyse(dataclasses.replace(GOOD, chosen_method="nobody"), [PLUGIN])


def test_arrays_of_a_test_cannot_be_changed() -> None:
    """A record copies its arrays and locks them."""
    with pytest.raises(ValueError, match="read-only"):
        GOOD.elapsed_s[0] = 1.0
