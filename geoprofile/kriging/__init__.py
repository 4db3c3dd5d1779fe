"""The estimation engine: fields between boreholes, with their uncertainty.

Pure computing on arrays and frozen records. Values are log10 of a quantity, places are easting,
northing, elevation [m].
"""

from geoprofile.kriging.covariance.data import (
    Batch,
    CrossValidation,
    Data,
    Parameters,
    Prediction,
    Prior,
    Summary,
)
from geoprofile.kriging.covariance.strata import Strata
from geoprofile.kriging.covariance.support import Support
from geoprofile.kriging.design.selection import next_tests
from geoprofile.kriging.fit.cross_validation import cross_validate
from geoprofile.kriging.fit.fitting import fit, krige
from geoprofile.kriging.fit.stored import fingerprint, from_json, to_json
from geoprofile.kriging.predict.executors import cluster, processes
from geoprofile.kriging.predict.kept import Kept, let_parts_go
from geoprofile.kriging.predict.model import Model
from geoprofile.kriging.predict.predict_cells import predict_over
from geoprofile.kriging.solve.cells import Lattice

__all__ = [
    "Batch",
    "CrossValidation",
    "Data",
    "Kept",
    "Lattice",
    "Model",
    "Parameters",
    "Prediction",
    "Prior",
    "Strata",
    "Summary",
    "Support",
    "cluster",
    "cross_validate",
    "fingerprint",
    "fit",
    "from_json",
    "krige",
    "let_parts_go",
    "next_tests",
    "predict_over",
    "processes",
    "to_json",
]
