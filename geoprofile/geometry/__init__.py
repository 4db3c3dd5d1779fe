"""Pure geometry of boreholes and section planes; arrays in, arrays out."""

from geoprofile.geometry.section_plane import SectionPlane
from geoprofile.geometry.trajectory import Path, trajectory

__all__ = ["Path", "SectionPlane", "trajectory"]
