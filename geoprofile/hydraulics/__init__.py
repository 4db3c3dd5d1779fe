"""Pure hydraulics: tests to K, water properties, shape factors, quality; arrays in, records out."""

from geoprofile.hydraulics.analysis import analyse, interval_value, without_curves

__all__ = ["analyse", "interval_value", "without_curves"]
