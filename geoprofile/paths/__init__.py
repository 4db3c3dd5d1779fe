"""Pure geometry of boreholes and section planes; arrays in, arrays out."""

from geoprofile.paths.plane import SectionPlane
from geoprofile.paths.trajectory import Path, trajectory

__all__ = ["Path", "SectionPlane", "trajectory"]
