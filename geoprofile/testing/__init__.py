"""Contract checks for plugins, ours and other people's; each raises AssertionError in words."""

from __future__ import annotations

import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.tests import GRADES, Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

METHOD_TOLERANCE = 0.03  # [-] K found again from a method's own clean example


def check_method(plugin: Method, *, ks: tuple[float, ...] = (1e-7, 1e-5, 1e-3)) -> None:
    """Hold a method to its contract.

    Parameters
    ----------
    plugin : Method [-]
        The method.
    ks : tuple of float [m/s]
        Values that its example is made with; it may refuse those beyond its reach by a DataError,
        but not all.

    Raises
    ------
    AssertionError
        With the clause that does not hold.
    """
    _say(
        bool(plugin.name and plugin.title and plugin.source),
        "a method has a name, title and source",
    )
    _say(bool(plugin.kinds), f"{plugin.name} names the kinds of test it is for")
    made = [(k, test) for k in ks if (test := _example(plugin, k)) is not None]
    _say(bool(made), f"{plugin.name} makes an example for one K of {ks}")
    for k, test in made:
        _say(test.kind in plugin.kinds, f"{plugin.name}: its example is of a kind it is for")
        fit = plugin.applies(test)
        _say(isinstance(fit, Applicability), f"{plugin.name}.applies returns an Applicability")
        _say(fit.applies, f"{plugin.name} applies to its own example; it says: {fit.reason}")
        _say(0 < fit.score <= 1, f"{plugin.name} gives a score above 0, at most 1")
        _say(len(fit.reason) > 5, f"{plugin.name} gives its reason in words")
        _check_result(plugin, plugin.run(test), k)


def _example(plugin: Method, k: float) -> HydraulicTest | None:
    """The method's own example, or None when that K is beyond its reach."""
    try:
        return plugin.example(k)
    except DataError:
        return None


def _check_result(plugin: Method, result: Conductivity, k: float) -> None:
    """K found again, bounds around it, a grade and readings for the figure."""
    error = result.k_m_per_s / k - 1.0
    _say(result.method == plugin.name, f"{plugin.name} signs its result with its name")
    _say(
        abs(error) < METHOD_TOLERANCE,
        f"{plugin.name} finds K {k:g} m/s of its example within 3 %, not {error:+.1%}",
    )
    _say(result.sd_log10_k > 0, f"{plugin.name} gives a spread above 0")
    _say(
        0 < result.k_low_m_per_s < result.k_high_m_per_s < math.inf,
        f"{plugin.name} gives bounds in order",
    )
    _say(result.grade in GRADES, f"{plugin.name} gives one of {GRADES}")
    sizes = {result.time_s.size, result.measured.size, result.fitted.size, result.used.size}
    _say(len(sizes) == 1 and sizes != {0}, f"{plugin.name} gives arrays of one length")
    _say(bool(np.isfinite(result.fitted).all()), f"{plugin.name} gives a finite fitted curve")
    _say(not result.measured.flags.writeable, f"{plugin.name} gives read-only arrays")


def _say(holds: bool, words: str) -> None:
    """Raise the clause that does not hold."""
    if not holds:
        raise AssertionError(words)
