"""The estimation engine: fields between boreholes, with their uncertainty.

Pure computing on arrays and frozen records. Values are log10 of a quantity, places are easting,
northing, elevation [m].
"""

from geoprofile.geostat.fitting import fit, krige
from geoprofile.geostat.model import Model
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
from geoprofile.geostat.support import Support

__all__ = [
    "Batch",
    "CrossValidation",
    "Data",
    "Model",
    "Parameters",
    "Prediction",
    "Prior",
    "Summary",
    "Support",
    "fit",
    "krige",
    "next_tests",
]
