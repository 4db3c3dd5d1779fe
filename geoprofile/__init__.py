"""geoprofile: packer tests and zone samples to K, concentration, maps and the next depth to test."""

from __future__ import annotations

__version__ = "0.1.0"
