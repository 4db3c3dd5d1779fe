"""geoprofile: packer tests and zone samples to K, concentration, maps and the next depth to test.

The names below are the Python face; they are loaded when they are first used.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.3.4"

_FACE = {
    "open": ("geoprofile.app", "open_site"),
    "run": ("geoprofile.app", "run_folder"),
    "fit_test": ("geoprofile.hydraulics.analysis", "fit_test"),
    "Site": ("geoprofile.site", "Site"),
    "HydraulicTest": ("geoprofile.hydraulics.tests", "HydraulicTest"),
    "PressureStep": ("geoprofile.hydraulics.tests", "PressureStep"),
    "Conductivity": ("geoprofile.hydraulics.tests", "Conductivity"),
    "Field": ("geoprofile.products.model.fitted", "Field"),
    "FieldAt": ("geoprofile.products.model.fitted", "FieldAt"),
    "GeoprofileError": ("geoprofile.errors", "GeoprofileError"),
    "DataError": ("geoprofile.errors", "DataError"),
    "DataErrors": ("geoprofile.errors", "DataErrors"),
    "UsageError": ("geoprofile.errors", "UsageError"),
    "BusyError": ("geoprofile.errors", "BusyError"),
    "DiskError": ("geoprofile.errors", "DiskError"),
    "DamagedError": ("geoprofile.errors", "DamagedError"),
}
__all__ = ["__version__", *sorted(_FACE)]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for."""
    if name not in _FACE:
        raise AttributeError(f"module 'geoprofile' has no attribute '{name}'")
    from importlib import import_module

    module, attribute = _FACE[name]
    return getattr(import_module(module), attribute)


def __dir__() -> list[str]:
    """The public names."""
    return list(__all__)
