"""The modes that a test's own depths call for."""

from __future__ import annotations

from geoprofile.hydraulics.recovery import Modes, ground_modes
from geoprofile.hydraulics.situation import refuse_open_end
from geoprofile.hydraulics.tests import HydraulicTest


def modes_of(test: HydraulicTest) -> Modes:
    """Modes of the ground around an interval, boundaries as far as they are known.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m]; a top or base that is not known counts as far.

    Returns
    -------
    Modes [-]
        Under an impermeable upper boundary when confined, else under a water table at the static
        level.

    Raises
    ------
    DataError
        The interval has no open wall.
    """
    refuse_open_end(test)
    upper_boundary = base = None
    above = test.aquifer_top_m if test.confined else test.static_depth_m
    if above is not None and test.top_m is not None:
        upper_boundary = test.top_m - above
    if test.aquifer_base_m is not None and test.bottom_m is not None:
        base = test.aquifer_base_m - test.bottom_m
    return ground_modes(
        test.interval_length_m,
        test.hole_radius_m,
        kv_kh=test.kv_kh,
        upper_boundary_distance=upper_boundary,
        base_distance=base,
        water_table=not test.confined,
    )
