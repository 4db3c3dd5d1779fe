"""Jacob and Lohman (1952): flow from a well whose head is held; see source.md."""

import numpy as np
import pytest

from geoprofile.hydraulics.injection import constant_head_flow

TABLE = {
    1e-4: 56.9, 1e-3: 18.34, 1e-2: 6.13, 0.1: 2.249, 1.0: 0.985, 10.0: 0.534, 100.0: 0.346,
    1e3: 0.251, 1e4: 0.1964, 1e6: 0.1360, 1e8: 0.1037,
}  # fmt: skip


@pytest.mark.parametrize(("time", "flow"), TABLE.items())
def test_printed_flow(time: float, flow: float) -> None:
    """Every printed value is met within 0.4 %."""
    assert constant_head_flow(np.array([time]))[0] == pytest.approx(flow, rel=0.004)
