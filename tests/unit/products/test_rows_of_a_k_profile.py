"""The rows of a K profile stand where the cells of the hole are, one for each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geoprofile.geometry import trajectory
from geoprofile.hydraulics.hole import HoleProfile
from geoprofile.products.conductivity.hole_profile import cell_rows

K = np.array([[1e-7, 1e-6, 1e-5], [1e-6, 1e-5, 1e-4]])  # [m/s] low, middle and high of two cells


def test_each_cell_has_its_depths_its_k_and_its_line() -> None:
    """Two cells of a vertical hole with its collar at 100 m."""
    profile = HoleProfile(
        edges_m=np.array([4.0, 6.0, 9.0]),
        cells=np.log(K),
        cell_sd=np.array([math.log(10.0), 0.0]),
        zones=np.log(K),
        zone_sd=np.zeros(2),
        shift=(-1.0, 0.5, 2.0),
        shift_prior_sd=1.0,
        shift_sd=0.5,
        told=True,
    )
    path = trajectory((500_000.0, 5_300_000.0, 100.0), 30.0, None)
    first, second = cell_rows("B1", ["Z1", "Z2", "Z3"], profile, path)
    assert (first["top_m"], first["bottom_m"]) == (4.0, 6.0)
    assert (second["top_m"], second["bottom_m"]) == (6.0, 9.0)
    names = ("k_low_m_per_s", "k_m_per_s", "k_high_m_per_s")
    assert [second[n] for n in names] == pytest.approx([1e-6, 1e-5, 1e-4])
    assert first["sd_log10_k"] == pytest.approx(1.0)
    assert [z for *_, z in second["geometry"].coords] == pytest.approx([94.0, 91.0])
    assert (first["added_to_p_low"], first["added_to_p"], first["added_to_p_high"]) == profile.shift
