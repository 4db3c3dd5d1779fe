"""The plugin for the desktop GIS: an empty shell around the program, written by it."""

from geoprofile.gisplugin.writing import NAME, Publisher, write_folder, write_zip

__all__ = ["NAME", "Publisher", "write_folder", "write_zip"]
