"""Contract checks for plugs, ours and other people's; each raises AssertionError in words."""

from __future__ import annotations

import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.plugs import Method
from geoprofile.records import GRADES, Applicability, Conductivity, HydraulicTest

METHOD_TOLERANCE = 0.03  # [-] K found again from a method's own clean example


def check_method(plug: Method, *, ks: tuple[float, ...] = (1e-7, 1e-5, 1e-3)) -> None:
    """Hold a method to its contract.

    Parameters
    ----------
    plug : Method [-]
        The method.
    ks : tuple of float [m/s]
        Values that its example is made with; it may refuse those beyond its reach by a DataError,
        but not all.

    Raises
    ------
    AssertionError
        With the clause that does not hold.
    """
    _say(bool(plug.name and plug.title and plug.source), "a method has a name, title and source")
    _say(bool(plug.kinds), f"{plug.name} names the kinds of test it is for")
    made = [(k, test) for k in ks if (test := _example(plug, k)) is not None]
    _say(bool(made), f"{plug.name} makes an example for one K of {ks}")
    for k, test in made:
        _say(test.kind in plug.kinds, f"{plug.name}: its example is of a kind it is for")
        fit = plug.applies(test)
        _say(isinstance(fit, Applicability), f"{plug.name}.applies returns an Applicability")
        _say(fit.applies, f"{plug.name} applies to its own example; it says: {fit.reason}")
        _say(0 < fit.score <= 1, f"{plug.name} gives a score above 0, at most 1")
        _say(len(fit.reason) > 5, f"{plug.name} gives its reason in words")
        _check_result(plug, plug.run(test), k)


def _example(plug: Method, k: float) -> HydraulicTest | None:
    """The method's own example, or None when that K is beyond its reach."""
    try:
        return plug.example(k)
    except DataError:
        return None


def _check_result(plug: Method, result: Conductivity, k: float) -> None:
    """K found again, bounds around it, a grade and readings for the figure."""
    error = result.k_m_per_s / k - 1.0
    _say(result.method == plug.name, f"{plug.name} signs its result with its name")
    _say(
        abs(error) < METHOD_TOLERANCE,
        f"{plug.name} finds K {k:g} m/s of its example within 3 %, not {error:+.1%}",
    )
    _say(result.sd_log10_k > 0, f"{plug.name} gives a spread above 0")
    _say(
        0 < result.k_low_m_per_s < result.k_high_m_per_s < math.inf,
        f"{plug.name} gives bounds in order",
    )
    _say(result.grade in GRADES, f"{plug.name} gives one of {GRADES}")
    sizes = {result.time_s.size, result.measured.size, result.fitted.size, result.used.size}
    _say(len(sizes) == 1 and sizes != {0}, f"{plug.name} gives arrays of one length")
    _say(bool(np.isfinite(result.fitted).all()), f"{plug.name} gives a finite fitted curve")
    _say(not result.measured.flags.writeable, f"{plug.name} gives read-only arrays")


def _say(holds: bool, words: str) -> None:
    """Raise the clause that does not hold."""
    if not holds:
        raise AssertionError(words)
