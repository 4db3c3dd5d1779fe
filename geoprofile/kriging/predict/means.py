"""The mean of a field, from the parameters that were fitted."""

from __future__ import annotations

import numpy as np

from geoprofile.kriging.covariance.data import Data, Parameters, Prior
from geoprofile.kriging.predict.plume_shape import Plume, PlumePrior
from geoprofile.kriging.solve.trend import Constant, Layered, Mean, Quadratic


def mean_of(parameters: Parameters, data: Data, prior: Prior | None = None) -> Mean:
    """The mean that parameters and data define.

    Parameters
    ----------
    parameters : Parameters
        Kind; azimuth and dip [degrees] of its frame, or shape of a plume [-].
    data : Data
        Whose supports [m] the frame just holds.
    prior : Prior
        That the shape of a plume is measured in, and how far levels of layers lie apart.

    Returns
    -------
    Mean
        Its functions of place [-]; every layer of the ground has a level of its own, but a plume
        runs through them all.
    """
    believed = prior or Prior()
    if parameters.shape:
        placed = PlumePrior.of(data, believed, parameters.mean)
        return Plume(placed, np.array(parameters.shape))
    plain: Mean = Constant()
    if parameters.mean == "quadratic":
        plain = Quadratic.around(data.support, parameters.azimuth_deg, parameters.dip_deg)
    return plain if data.strata is None else Layered(plain, data.strata, believed.stratum_sd)
