"""Inflation pressure: what a packer element needs at its depth, and what the surface gauge then
shows.
"""

from __future__ import annotations

from dataclasses import dataclass

from geoprofile.packers.equipment import DENSITY, GRAVITY, Hole, Packer, Rules

ROUNDING_PA = 1e-3  # a limit is reached, not passed, within the last digits of a sum of pressures


@dataclass(frozen=True)
class Inflation:
    """Pressure of one packer element [Pa, gauge], and what speaks against it in words."""

    at_element_pa: float
    inner_pa: float
    gauge_pa: float
    refusals: tuple[str, ...]
    cautions: tuple[str, ...]


def pressure_at_element(element_m: float, water_m: float, *, density: float = DENSITY) -> float:
    """Water pressure outside the packer element.

    Parameters
    ----------
    element_m, water_m : float [m]
        Vertical depths of the packer element and of the water level outside it.
    density : float [kg/m3]
        Of the water.

    Returns
    -------
    float [Pa]
        rho g (z_element - z_water), 0 above the water.

    References
    ----------
    Hydrostatics; common practice, no source.

    Examples
    --------
    46 m and 12.40 m give 329.4 kPa.
    """
    return density * GRAVITY * max(element_m - water_m, 0.0)


def gas_line_pressure(
    at_element: float, seating: float, difference: float, *, margin: float
) -> float:
    """Gauge pressure of a gas-filled line, equal to the pressure inside the packer element.

    Parameters
    ----------
    at_element, seating, difference : float [Pa]
        Water pressure at the packer element; pressure that expands the packer element to the wall
        at this diameter; largest pressure difference across the packer element during the job.
    margin : float [-]
        Seal margin, 1.2 to 1.5.

    Returns
    -------
    float [Pa]
        P_element + P_exp + m dP. The weight of the gas is left out (0.1 % per 10 m).

    References
    ----------
    Common practice, no source.

    Examples
    --------
    329.4, 350 and 330 kPa with margin 1.3 give 1108.4 kPa.
    """
    return at_element + seating + margin * difference


def water_line_pressure(
    inner: float, element_m: float, *, gauge_height_m: float, density: float = DENSITY
) -> float:
    """Gauge pressure at surface of a water-filled line that gives an inner pressure.

    Parameters
    ----------
    inner : float [Pa]
        Gauge pressure wanted inside the packer element.
    element_m : float [m]
        Vertical depth of the packer element.
    gauge_height_m : float [m]
        Height of the gauge above ground.
    density : float [kg/m3]
        Of the water in the line.

    Returns
    -------
    float [Pa]
        inner - rho g (z_element + h_gauge).

    References
    ----------
    Hydrostatics; common practice, no source.

    Examples
    --------
    1108.4 kPa at 46 m with the gauge at 1.0 m give 647.6 kPa.
    """
    return inner - density * GRAVITY * (element_m + gauge_height_m)


def plan_inflation(
    packer: Packer,
    hole: Hole,
    deepest_m: float,
    *,
    rules: Rules,
    shallowest_m: float | None = None,
) -> Inflation:
    """Pressure for a packer element in a hole, never above a limit without a refusal that names the
    number.

    Parameters
    ----------
    packer : Packer [-]
        With its maker's limits.
    hole : Hole [-]
        With its static level; ground level stands in when that is not known, the safe side.
    deepest_m : float [m]
        Depth along the hole of the lower end of the deepest packer element.
    rules : Rules [-]
        Margin, pressure difference, gauge height, rock limit.
    shallowest_m : float [m] or None
        Depth of the upper end of the shallowest packer element on the same line, where the rock
        bears the most; None for the deepest.

    Returns
    -------
    Inflation [Pa]
        Pressures with refusals and cautions in words.

    Notes
    -----
    The maker's limit is held against the pressure inside the packer element, whatever fills the
    line. The limit for the actual diameter may be lower than the one in the table. The rating of
    the line is held against the gauge pressure and, outside the packer element, against what
    exceeds the water pressure.

    References
    ----------
    Common practice, no source.
    """
    depth = hole.vertical(deepest_m)
    water = 0.0 if hole.static_depth_m is None else hole.static_depth_m
    outside = pressure_at_element(depth, water, density=rules.density_kg_m3)
    inner = gas_line_pressure(
        outside,
        packer.seating_pressure_pa,
        rules.pressure_difference_pa,
        margin=rules.seal_margin,
    )
    gauge = inner
    if packer.line == "water":
        gauge = water_line_pressure(
            inner, depth, gauge_height_m=rules.gauge_height_m, density=rules.density_kg_m3
        )
    shallow = hole.vertical(deepest_m if shallowest_m is None else shallowest_m)
    excess = inner - pressure_at_element(shallow, water, density=rules.density_kg_m3)
    return Inflation(
        outside,
        inner,
        max(gauge, 0.0),
        (
            *_refusals(packer, inner, excess, shallow, rules),
            *_line_refusals(packer, max(gauge, inner - outside)),
        ),
        _cautions(packer, hole, gauge, water, rules),
    )


def _refusals(
    packer: Packer, inner: float, excess: float, depth: float, rules: Rules
) -> tuple[str, ...]:
    """Limits that the pressure would pass."""
    words = []
    if inner > packer.max_inflation_pa + ROUNDING_PA:
        words.append(
            f"needs {inner / 1e3:.0f} kPa in the packer element, above the"
            f" {packer.max_inflation_pa / 1e3:.0f} kPa that the maker of {packer.packer} allows"
        )
    limit = rules.rock_limit_pa_per_m
    if limit is not None and excess > limit * depth + ROUNDING_PA:
        words.append(
            f"presses the rock {excess / 1e3:.0f} kPa above the water pressure, more"
            f" than the limit of {limit * depth / 1e3:.0f} kPa at {depth:.1f} m"
        )
    return tuple(words)


def _line_refusals(packer: Packer, bears_pa: float) -> tuple[str, ...]:
    """The rating of the line, held against the most that it bears at the gauge or at the packer
    element.
    """
    rating = packer.line_rating_pa
    if rating is None or bears_pa <= rating + ROUNDING_PA:
        return ()
    return (
        f"puts {bears_pa / 1e3:.0f} kPa on the inflation line of {packer.packer}, which is rated"
        f" for {rating / 1e3:.0f} kPa",
    )


def _cautions(
    packer: Packer, hole: Hole, gauge: float, water: float, rules: Rules
) -> tuple[str, ...]:
    """What the crew must know before inflating."""
    words = []
    if hole.static_depth_m is None:
        words.append("static level not known: the pressure is for water at ground level; dip first")
    if packer.line == "water":
        left = rules.density_kg_m3 * GRAVITY * (water + rules.gauge_height_m)
        if left > packer.seating_pressure_pa:
            words.append(
                f"the water column in the line keeps {left / 1e3:.0f} kPa in the element after"
                " venting: it may not deflate; use gas or a line that can be blown out"
            )
        if gauge < 0:
            words.append("the column in the line alone gives more than is needed: it over-inflates")
    return tuple(words)
