"""The estimation engine: fields between boreholes, with their uncertainty.

Pure computing on arrays and frozen records. Values are log10 of a quantity, places are easting,
northing, elevation [m].
"""

from geoprofile.geostat.cells import Lattice
from geoprofile.geostat.crew import cluster, processes
from geoprofile.geostat.fitting import fit, krige
from geoprofile.geostat.model import Model
from geoprofile.geostat.over import predict_over
from geoprofile.geostat.records import (
    Batch,
    CrossValidation,
    Data,
    Parameters,
    Prediction,
    Prior,
    Summary,
)
from geoprofile.geostat.selection import next_tests
from geoprofile.geostat.strata import Strata
from geoprofile.geostat.support import Support

__all__ = [
    "Batch",
    "CrossValidation",
    "Data",
    "Lattice",
    "Model",
    "Parameters",
    "Prediction",
    "Prior",
    "Strata",
    "Summary",
    "Support",
    "cluster",
    "fit",
    "krige",
    "next_tests",
    "predict_over",
    "processes",
]
