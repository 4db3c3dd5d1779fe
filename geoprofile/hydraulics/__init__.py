"""Pure hydraulics: tests to K, water properties, shape factors, quality; arrays in, records out."""

from geoprofile.hydraulics.analysis import analyse, interval_value, one_family
from geoprofile.hydraulics.repeats import repeat_check

__all__ = ["analyse", "interval_value", "one_family", "repeat_check"]
