"""Geometries that other installed packages bring along.

Such a package names, in the entry-point group :data:`GROUP`, the modules that declare its
geometries; each is imported once, as installed code is by any import.
"""

from __future__ import annotations

import warnings
from importlib.metadata import entry_points

__all__ = ["GROUP", "load_installed"]

GROUP = "magnet_motor_study.geometries"


def load_installed() -> None:
    """Import what is registered in the group; a module that fails is left out with a warning."""
    for entry in entry_points(group=GROUP):
        try:
            entry.load()
        except Exception as cause:  # whatever a foreign module does wrong
            warnings.warn(
                f"geometry {entry.name!r} of {entry.value} cannot be loaded: {cause}", stacklevel=2
            )
