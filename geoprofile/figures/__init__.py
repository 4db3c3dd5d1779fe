"""Figures, drawn from numbers: the only room that imports matplotlib."""

from geoprofile.figures.mapsheet import site_map
from geoprofile.figures.profile import chemistry_profile, k_profile, profile_figure
from geoprofile.figures.response import response_figure
from geoprofile.figures.section import free_section_figure, section_figure
from geoprofile.figures.validation import validation_figure

__all__ = [
    "chemistry_profile",
    "free_section_figure",
    "k_profile",
    "profile_figure",
    "response_figure",
    "section_figure",
    "site_map",
    "validation_figure",
]
