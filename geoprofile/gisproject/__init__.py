"""A composed project for the desktop GIS, written without it from styles and schema."""

from __future__ import annotations

from geoprofile.gisproject.keeping import Kept, keep_project

__all__ = ["Kept", "keep_project"]
