"""Pure geometry of boreholes and section planes; arrays in, arrays out."""

from geoprofile.paths.depth import Depth, along_hole, below_ground, depth_of
from geoprofile.paths.plane import SectionPlane
from geoprofile.paths.trajectory import Path, trajectory

__all__ = [
    "Depth",
    "Path",
    "SectionPlane",
    "along_hole",
    "below_ground",
    "depth_of",
    "trajectory",
]
