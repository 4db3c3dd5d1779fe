"""The pipe tally: which pipes reach the zone, and what must stick up when they do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from geoprofile.packers.equipment import CENTIMETRE


@dataclass(frozen=True)
class Tally:
    """Pipes from the tool upwards and what then sticks up above ground, lengths in m.

    `zone_top_m` is reached when `stick_up_m` of the last pipe stands above ground: put the mark
    there.
    """

    zone_top_m: float
    tool_m: float
    pipe_m: float
    pipes: int
    short_pipes_m: tuple[float, ...]
    stick_up_m: float

    @property
    def string_m(self) -> float:
        """Length [m] from the top of the zone to the top of the string."""
        return self.tool_m + self.pipes * self.pipe_m + sum(self.short_pipes_m)


def pipe_tally(
    zone_top_m: float,
    *,
    tool_m: float,
    pipe_m: float,
    short_pipes_m: Sequence[float] = (),
    least_stick_up_m: float = 0.3,
    most_stick_up_m: float = 1.5,
) -> Tally:
    """Pipes to run so that the zone starts at its depth and the string ends at a handy height.

    Parameters
    ----------
    zone_top_m : float [m]
        Depth along the hole of the top of the zone, the lower end of the upper packer element.
    tool_m, pipe_m : float [m]
        From the top of the tool to the lower end of its upper packer element, and length of a pipe.
    short_pipes_m : sequence of float [m]
        Short pipes on hand, each usable once.
    least_stick_up_m, most_stick_up_m : float [m]
        What may stand above ground.

    Returns
    -------
    Tally [m]
        The one with the fewest short pipes whose stick-up fits; failing that the nearest to it.

    Notes
    -----
    tool + pipes = zone top + stick-up. Measure every pipe on site; a tally is no measurement.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    Zone top 21.00 m, tool 1.20 m, pipes of 3 m: 7 pipes and 1.20 m above ground.
    """
    choices: list[tuple[float, ...]] = [()]
    for length in short_pipes_m:
        choices += [(*chosen, length) for chosen in choices]
    tallies = [
        _with(zone_top_m, tool_m, pipe_m, chosen, least_stick_up_m)
        for chosen in sorted(choices, key=lambda c: (len(c), sum(c)))
    ]
    return min(
        tallies, key=lambda t: (max(t.stick_up_m - most_stick_up_m, 0.0), len(t.short_pipes_m))
    )


def _with(
    zone_top: float, tool: float, pipe: float, short: tuple[float, ...], least: float
) -> Tally:
    """The tally with the fewest long pipes that still sticks up enough."""
    missing = zone_top + least - tool - sum(short)
    pipes = max(math.ceil(missing / pipe - 1e-9), 0)
    stick_up = tool + pipes * pipe + sum(short) - zone_top
    digits = -round(math.log10(CENTIMETRE)) + 1
    return Tally(zone_top, tool, pipe, pipes, short, round(stick_up, digits))
