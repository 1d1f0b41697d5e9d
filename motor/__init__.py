"""Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable linear stroke.

::

    import motor

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    result = motor.solve(design)
    print(result.report())
    result.bl_curve.plot()
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from motor.coil import Coil
    from motor.curves.bl import BlCurve
    from motor.curves.loaded import LoadedCoil, loaded_coil
    from motor.curves.profile import FluxProfile
    from motor.design import Design, Materials, MovingParts, StrokeRules
    from motor.design_file import (
        design_from_toml,
        design_to_toml,
        read_design,
        write_design,
    )
    from motor.errors import InvalidInput, MeshError, MotorError, OutputError, SolveError
    from motor.field.field import Estimate, Field
    from motor.field.meshing import Sizing
    from motor.report.files import save
    from motor.result import MotorResult, solve
    from motor.starters import starter
    from motor.wire import FlatWire, Wire, wire_of_size

_HOME = {
    "motor.coil": ("Coil",),
    "motor.curves.bl": ("BlCurve",),
    "motor.curves.loaded": ("LoadedCoil", "loaded_coil"),
    "motor.curves.profile": ("FluxProfile",),
    "motor.design": ("Design", "Materials", "MovingParts", "StrokeRules"),
    "motor.design_file": ("design_from_toml", "design_to_toml", "read_design", "write_design"),
    "motor.errors": ("InvalidInput", "MeshError", "MotorError", "OutputError", "SolveError"),
    "motor.field.field": ("Estimate", "Field"),
    "motor.field.meshing": ("Sizing",),
    "motor.report.files": ("save",),
    "motor.result": ("MotorResult", "solve"),
    "motor.starters": ("starter",),
    "motor.wire": ("FlatWire", "Wire", "wire_of_size"),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}

__all__ = [
    "BlCurve",
    "Coil",
    "Design",
    "Estimate",
    "Field",
    "FlatWire",
    "FluxProfile",
    "InvalidInput",
    "LoadedCoil",
    "Materials",
    "MeshError",
    "MotorError",
    "MotorResult",
    "MovingParts",
    "OutputError",
    "Sizing",
    "SolveError",
    "StrokeRules",
    "Wire",
    "design_from_toml",
    "design_to_toml",
    "loaded_coil",
    "read_design",
    "save",
    "solve",
    "starter",
    "wire_of_size",
    "write_design",
]


def __getattr__(name: str) -> Any:
    """Import public names when they are first used, so that the command starts fast."""
    if name not in _MODULE:
        raise AttributeError(f"module 'motor' has no attribute {name!r}")
    return getattr(importlib.import_module(_MODULE[name]), name)
