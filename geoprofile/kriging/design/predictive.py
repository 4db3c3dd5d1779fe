"""What a test would find: the field over its interval, with the noise of a test on top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.support import Support
from geoprofile.kriging.design.current_state import used_members
from geoprofile.kriging.predict.doubt import widened
from geoprofile.kriging.predict.mixture import Part, quantile
from geoprofile.kriging.predict.predictor import Probe

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]


def noise_of_tests(model: Model) -> float:
    """Measurement variance to expect of a new test: the median of the data's.

    Parameters
    ----------
    model : Model
        Fitted.

    Returns
    -------
    float [log10 squared]
        Without the nugget, which the members add.
    """
    return float(np.median(np.asarray(model.data.variance)))


def predict(model: Model, tests: Support, probabilities: Sequence[float]) -> Array:
    """Quantiles of the results that tests would give.

    Parameters
    ----------
    model : Model
        Fitted.
    tests : Support
        m intervals [m].
    probabilities : sequence of float, shape (q,) [-]
        Between 0 and 1.

    Returns
    -------
    Array, shape (m, q) [log10 unit]
        Of the mixture of all members, with nugget and measurement noise.
    """
    noise = noise_of_tests(model)
    used = used_members(model)
    found = [(weight, *member.at(tests)) for weight, member in used]
    fields: list[Part] = [(weight, means, np.sqrt(variance)) for weight, means, variance in found]
    before = [Probe.of(member, tests).prior for _, member in used]
    wide = widened(fields, before, model.doubt)
    parts: list[Part] = [
        (weight, means, np.sqrt(sd * sd + member.parameters.nugget + noise))
        for (weight, means, sd), (_, member) in zip(wide, used, strict=True)
    ]
    levels = [quantile(parts, probability) for probability in probabilities]
    high = model.high_values
    if high is not None:
        here = replace(high, sills=tuple(before))
        levels = [here.true(wide, level) for level in levels]
    return np.column_stack(levels)
