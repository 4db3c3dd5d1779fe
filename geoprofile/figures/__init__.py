"""Figures, drawn from numbers: the only room that imports matplotlib."""

from geoprofile.figures.section import section_figure

__all__ = ["section_figure"]
