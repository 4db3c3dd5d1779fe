"""Figures, drawn from numbers: the only room that imports matplotlib."""

from geoprofile.products.conductivity.figure import response_figure
from geoprofile.products.maps.figure import site_map
from geoprofile.products.model.figure import validation_figure
from geoprofile.products.profile.figure import chemistry_profile, k_profile, profile_figure
from geoprofile.products.section.figure import free_section_figure, section_figure

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
