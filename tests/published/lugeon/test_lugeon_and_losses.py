"""Lugeon conversions, the worked constant-head example and pipe losses; see source.md."""

import math

import numpy as np
import pytest

from geoprofile.hydraulics import injection, losses, lugeon
from geoprofile.hydraulics.methods import moye
from geoprofile.hydraulics.tests import HydraulicTest, Pipe, PressureStep

PIPE = Pipe(length_m=45.0, inner_diameter_m=0.0266, roughness_m=1.5e-4)
FLOW = 24.0 / 60e3


def worked(pipe: Pipe | None = PIPE) -> HydraulicTest:
    """The worked example."""
    return HydraulicTest(
        test="1", interval="1", borehole="1", kind="constant head", interval_length_m=3.05,
        hole_radius_m=0.048, top_m=30.0, bottom_m=33.05, static_depth_m=12.40,
        water_temperature_c=10.0, pipe=pipe,
        pressure_steps=(
            PressureStep(step=1, flow_m3_per_s=FLOW, gauge_pressure_pa=2e5, gauge_height_m=1.10),
        ),
    )  # fmt: skip


def test_worked_example_step_by_step() -> None:
    """Loss 1.6323 m, net head 32.268 m, P 4.4586, K 2.8840e-6 m/s, 24.874 Lu."""
    head, loss = injection.net_head(worked().pressure_steps[0], worked())
    result = moye.PLUGIN.run(worked())
    assert loss == pytest.approx(1.6323, rel=1e-4)
    assert head == pytest.approx(32.268, rel=1e-4)
    assert result.log_ratio == pytest.approx(4.4586, rel=1e-4)
    assert result.k_m_per_s == pytest.approx(2.8840e-6, rel=1e-4)
    assert result.lugeon == pytest.approx(24.874, rel=1e-4)


def test_without_the_pipe_loss_k_is_low_by_five_percent() -> None:
    """Leaving the friction out costs 4.8 % of K, and the result says the pipe is missing."""
    result = moye.PLUGIN.run(worked(None))
    assert result.k_m_per_s / 2.8840e-6 == pytest.approx(1 - 0.048, abs=1e-3)
    assert any("no pipe is given" in words for words in result.notes)


def test_friction_factor_of_the_example() -> None:
    """Re 14 657 and e/d 0.15/26.6 give f 0.036527."""
    assert losses.friction_factor(14657.0, 0.15 / 26.6) == pytest.approx(0.036527, rel=1e-4)


@pytest.mark.parametrize("reynolds", [5e3, 1e5, 1e7])
@pytest.mark.parametrize("rough", [1e-6, 1e-3, 0.02])
def test_colebrook_is_near_swamee_and_jain(reynolds: float, rough: float) -> None:
    """Swamee and Jain (1976) give an explicit form within 3 % (from memory)."""
    explicit = 0.25 / math.log10(rough / 3.7 + 5.74 / reynolds**0.9) ** 2
    assert losses.friction_factor(reynolds, rough) == pytest.approx(explicit, rel=0.035)


def test_laminar_factor_is_64_over_reynolds() -> None:
    """Hagen-Poiseuille."""
    assert losses.friction_factor(1000.0, 0.01) == pytest.approx(0.064)


def test_factor_has_no_jump_at_the_ends_of_the_transition() -> None:
    """The straight line meets both laws."""
    for edge in (losses.LAMINAR, losses.TURBULENT):
        below = losses.friction_factor(edge * (1 - 1e-9), 1e-3)
        above = losses.friction_factor(edge * (1 + 1e-9), 1e-3)
        assert below == pytest.approx(above, rel=1e-6)


def test_hazen_williams_in_two_systems_of_units() -> None:
    """4.52 q^1.85/(C^1.85 d^4.87) psi/ft (US form, from memory) agrees within 0.5 %."""
    flow, length, diameter, smooth = 5e-3, 100.0, 0.08, 130.0
    gpm, inch = flow * 15850.323, diameter / 0.0254
    psi_per_ft = 4.52 * gpm**1.852 / (smooth**1.852 * inch**4.8704)
    metres = psi_per_ft * 6894.757 / (999.1 * 9.80665) * length / 0.3048
    found = losses.hazen_williams_loss(flow, length, diameter, smooth)
    assert found == pytest.approx(metres, rel=0.005)


def test_string_calibrated_at_surface_is_used_first() -> None:
    """A loss a Q^n measured on the string replaces the formula."""
    measured = Pipe(
        length_m=45.0, inner_diameter_m=0.0266, measured_coefficient=2e6, measured_exponent=1.9
    )
    assert losses.pipe_loss(4e-4, measured) == pytest.approx(2e6 * 4e-4**1.9, rel=1e-9)


@pytest.mark.parametrize(("p", "k"), [(5.186, 1.347e-7), (4.880, 1.267e-7), (2.998, 7.78e-8)])
def test_k_of_one_lugeon(p: float, k: float) -> None:
    """K per Lu at 20 C, to the printed digits."""
    assert lugeon.conductivity_of_lugeon(p) == pytest.approx(k, rel=7e-4)


def test_one_lugeon_is_one_litre_per_minute_and_metre_at_a_megapascal() -> None:
    """The definition."""
    head = 1e6 / (998.207 * 9.80665)
    found = lugeon.lugeon_value(5.0 / 60e3, head, 5.0, temperature_c=20.0)
    assert float(found) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize(
    ("lugeons", "pattern"),
    [
        ((5.0, 5.1, 4.9, 5.0, 5.1), "laminar"),
        ((8.0, 6.5, 5.0, 6.4, 8.1), "turbulent"),
        ((3.0, 3.2, 6.0, 3.3, 3.1), "dilation"),
        ((2.0, 3.0, 4.0, 5.0, 6.0), "wash-out"),
        ((6.0, 5.0, 4.2, 3.5, 3.0), "void filling"),
        ((3.0, 6.0, 2.0, 5.0, 3.0), "mixed"),
    ],
)
def test_five_step_patterns(lugeons: tuple[float, ...], pattern: str) -> None:
    """Houlsby's five groups, and mixed when none fits."""
    assert lugeon.step_pattern(np.array(lugeons)) == pattern


def test_turbulent_loss_is_taken_out_by_the_intercept() -> None:
    """H = A Q + B Q^2 with A 3e4, B 2e8 gives A back; at 16 m K from Q/H is 0.408 of true."""
    head = np.array([2.0, 4.0, 8.0, 16.0])
    flow = (-3e4 + np.sqrt(9e8 + 8e8 * head)) / 4e8
    a, b = injection.linear_and_square(flow, head)
    assert a == pytest.approx(3e4, rel=1e-9)
    assert b == pytest.approx(2e8, rel=1e-9)
    assert flow[-1] / head[-1] * 3e4 == pytest.approx(0.40803, abs=1e-5)
