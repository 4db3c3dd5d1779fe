"""Pure geometry of boreholes and section planes; arrays in, arrays out."""

from geoprofile.geometry.depth import Depth, along_hole, below_ground, depth_of
from geoprofile.geometry.section_plane import SectionPlane
from geoprofile.geometry.trajectory import Path, trajectory

__all__ = [
    "Depth",
    "Path",
    "SectionPlane",
    "along_hole",
    "below_ground",
    "depth_of",
    "trajectory",
]
