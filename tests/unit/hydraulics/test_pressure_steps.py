"""Constant-head tests: heads, refusals and grades."""

import dataclasses

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.hydraulics import injection, losses, lugeon
from geoprofile.hydraulics.methods import moye, steady_anisotropic
from geoprofile.hydraulics.tests import Conductivity, HydraulicTest, Pipe, PressureStep
from geoprofile.hydraulics.water import GRAVITY

BASE = moye.example(1e-6)


def staged(
    flows: tuple[float, ...], heads: tuple[float, ...] = (4.0, 8.0, 12.0, 8.0, 4.0),
    **changes: object,
) -> HydraulicTest:  # fmt: skip
    """The example with other flows [L/min] and net heads [m]."""
    pressure_steps = tuple(
        PressureStep(step=i + 1, flow_m3_per_s=q / 60e3, net_head_m=h)
        for i, (q, h) in enumerate(zip(flows, heads, strict=True))
    )
    return dataclasses.replace(BASE, pressure_steps=pressure_steps, **changes)


def result(*flows: float, **changes: object) -> Conductivity:
    """K of five pressure steps by the steady state of the ground."""
    return steady_anisotropic.run(staged(flows, **changes))


def test_dry_interval_is_referred_to_its_middle() -> None:
    """Above the water the column reaches mid-interval."""
    test = dataclasses.replace(BASE, static_depth_m=30.0)
    assert injection.reference_depth_m(test) == pytest.approx(13.5)
    assert injection.reference_depth_m(BASE) == pytest.approx(4.0)


def test_no_depth_at_all_is_refused() -> None:
    """A gauge pressure needs a depth to refer to."""
    step = PressureStep(step=1, flow_m3_per_s=1e-4, gauge_pressure_pa=1e5)
    test = dataclasses.replace(
        BASE, static_depth_m=None, top_m=None, bottom_m=None, pressure_steps=(step,)
    )
    with pytest.raises(DataError, match="no static level"):
        moye.run(test)


def test_step_without_pressure_is_refused() -> None:
    """Neither gauge nor transducer."""
    step = PressureStep(step=2, flow_m3_per_s=1e-4)
    with pytest.raises(DataError, match="no pressure"):
        injection.net_head(step, BASE)
    with pytest.raises(DataError, match="no pressure"):
        moye.run(dataclasses.replace(BASE, pressure_steps=(step,)))


def test_loss_above_the_head_is_refused() -> None:
    """A string that eats all the head leaves nothing to test with."""
    step = PressureStep(step=1, flow_m3_per_s=3e-3, gauge_pressure_pa=1e5)
    pipe = Pipe(length_m=60.0, inner_diameter_m=0.02)
    with pytest.raises(DataError, match="pipe loss"):
        moye.run(dataclasses.replace(BASE, pressure_steps=(step,), pipe=pipe))


def test_loss_of_most_of_the_head_is_qualified() -> None:
    """K then hangs on the pipe."""
    step = PressureStep(step=1, flow_m3_per_s=6e-4, gauge_pressure_pa=1e5)
    pipe = Pipe(length_m=60.0, inner_diameter_m=0.022)
    found = moye.run(dataclasses.replace(BASE, pressure_steps=(step,) * 3, pipe=pipe))
    assert any("of the head" in words for words in found.notes)


def test_no_flow_at_all_is_refused_with_advice() -> None:
    """K lies below the range of the set-up."""
    with pytest.raises(DataError, match="no flow") as caught:
        result(0.0, 0.0, 0.0, 0.0, 0.0)
    assert "pulse" in caught.value.problem.advice


def test_step_without_flow_does_not_upset_the_others() -> None:
    """A first pressure step below the floor of the meter is left out of K."""
    found = result(0.0, 2.0, 3.0, 2.0, 1.0)
    assert 0 < found.k_m_per_s < 1e-3


def test_dilation_takes_k_from_the_low_pressure_steps() -> None:
    """Fractures that open at the peak do not raise K."""
    found = result(1.0, 2.2, 6.0, 2.2, 1.0)
    low = result(1.0, 2.0, 3.0, 2.0, 1.0)
    assert found.k_m_per_s == pytest.approx(low.k_m_per_s, rel=1e-9)
    assert found.grade == "qualified"


def test_turbulent_pressure_steps_take_k_from_the_intercept() -> None:
    """H = A Q + B Q^2: K follows from A and the grade stays."""
    heads = np.array([4.0, 8.0, 12.0, 8.0, 4.0])
    a, b = 4.0, 1.0
    flows = (-a + np.sqrt(a**2 + 4 * b * heads)) / (2 * b)
    found = result(*flows)
    laminar = result(*(heads / a))
    assert found.k_m_per_s == pytest.approx(laminar.k_m_per_s, rel=1e-6)
    assert found.grade == "accepted"
    assert found.fitted == pytest.approx(heads, rel=1e-6)


def test_one_step_is_qualified() -> None:
    """Linearity is not shown by one pressure step."""
    found = steady_anisotropic.run(staged((2.0,), (8.0,)))
    assert found.grade == "qualified"


def test_three_pressure_steps_that_differ_are_qualified() -> None:
    """Take per head that differs by more than 30 %."""
    assert steady_anisotropic.run(staged((1.0, 2.0, 3.0), (4.0, 8.0, 12.0))).grade == "accepted"
    assert steady_anisotropic.run(staged((1.0, 3.0, 6.0), (4.0, 8.0, 12.0))).grade == "qualified"


def test_pressure_above_the_cover_is_told() -> None:
    """More than 22.6 kPa per metre of cover may open fractures (common practice, no source)."""
    heads = (20.0, 30.0, 40.0, 30.0, 20.0)
    found = steady_anisotropic.run(staged((1.0, 1.5, 2.0, 1.5, 1.0), heads))
    assert found.grade == "qualified"
    assert any("cover" in words for words in found.notes)
    shallow = steady_anisotropic.run(
        staged((1.0, 1.5, 2.0, 1.5, 1.0), heads, top_m=None, bottom_m=None)
    )
    assert not any("cover" in words for words in shallow.notes)


def test_response_outside_the_zone_rejects() -> None:
    """A tenth of the net head outside: water passes the packer element."""
    pressure_steps = tuple(dataclasses.replace(s, outside_head_m=0.4) for s in BASE.pressure_steps)
    assert moye.run(dataclasses.replace(BASE, pressure_steps=pressure_steps)).grade == "rejected"


def test_pattern_needs_five_pressure_steps() -> None:
    """Four pressure steps have no pattern."""
    with pytest.raises(ValueError, match="five pressure steps"):
        lugeon.step_pattern(np.ones(4))


def test_representative_pressure_steps_of_each_pattern() -> None:
    """Houlsby (1976), from memory."""
    head = np.array([5.0, 10.0, 15.0, 10.0, 5.0])
    assert lugeon.representative_steps("laminar", head) == (0, 1, 2, 3, 4)
    assert lugeon.representative_steps("turbulent", head) == (2,)
    assert lugeon.representative_steps("dilation", head) == (0, 4)
    assert lugeon.representative_steps("void filling", head) == (4,)


def test_recovery_after_injection_gives_k_back() -> None:
    """Two line sources (Theis 1935) summed far after the start: K within 1 %."""
    from scipy.special import exp1

    k, length, storage, flow, duration = 2e-6, 3.0, 1e-5, 1e-4, 3600.0
    time = np.linspace(300.0, 7200.0, 60)

    def drawup(t: np.ndarray) -> np.ndarray:
        u = 0.048**2 * storage / (4 * k * t)
        return flow / (4 * np.pi * k * length) * exp1(u)

    head = drawup(time + duration) - drawup(time)
    found, sd = injection.recovery_after_injection(
        time, head, flow=flow, duration=duration, length=length
    )
    assert found == pytest.approx(k, rel=0.01)
    assert sd < 0.01


def test_recovery_that_does_not_fall_is_refused() -> None:
    """A rising residual head has no K, and two readings no line."""
    time = np.array([1.0, 2.0, 3.0])
    kw = {"flow": 1e-4, "duration": 60.0, "length": 1.0}
    with pytest.raises(ValueError, match="does not fall"):
        injection.recovery_after_injection(time, np.array([1.0, 2.0, 3.0]), **kw)
    with pytest.raises(ValueError, match="three or more"):
        injection.recovery_after_injection(time[:2], time[:2], **kw)


def test_no_flow_loses_no_head() -> None:
    """Still water."""
    assert losses.pipe_loss(0.0, Pipe(length_m=10.0, inner_diameter_m=0.02)) == 0.0


def test_minor_losses_add_velocity_heads() -> None:
    """A coefficient of 3 adds three velocity heads."""
    plain = Pipe(length_m=10.0, inner_diameter_m=0.03)
    bends = dataclasses.replace(plain, minor_loss=3.0)
    speed = 1e-3 / (np.pi / 4 * 0.03**2)
    more = losses.pipe_loss(1e-3, bends) - losses.pipe_loss(1e-3, plain)
    assert more == pytest.approx(3 * speed**2 / (2 * GRAVITY), rel=1e-9)


def test_measured_loss_has_a_usual_exponent() -> None:
    """Without an exponent 1.85 is taken."""
    pipe = Pipe(length_m=1.0, inner_diameter_m=0.02, measured_coefficient=1e6)
    assert losses.pipe_loss(1e-3, pipe) == pytest.approx(1e6 * 1e-3**1.85)
